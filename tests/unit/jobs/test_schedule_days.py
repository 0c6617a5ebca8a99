"""The sums of the schedule, worked on paper: F26, days.

F26 of the trade's handbook: days = ceil(plan hours / what people save / productive hours of a day); shop
6.5 h, driveway 5.5, campsite 5.0; two people do the work of 1.7. Sealing to driving: 24 h, bonded 72 h. Check
values are divided by hand beside each row.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

import pytest

from jobs.models import Bay
from jobs.schedule.days import (
    days_needed,
    one_person_hours,
    productive_hours,
    promise_after,
    release_of,
    work_days,
)

D = dt.date


@pytest.mark.parametrize(
    ("hours", "people", "place", "days"),
    [
        ("12", 1, "shop", 2),  # 12 / 6.5 = 1.85
        ("16", 1, "shop", 3),  # 16 / 6.5 = 2.46
        ("32", 1, "shop", 5),  # 32 / 6.5 = 4.92
        ("32", 2, "shop", 3),  # 32 / 1.7 / 6.5 = 2.896
        ("32", 3, "shop", 3),  # a third saves nothing that is known
        ("32", 2, "driveway", 4),  # 32 / 1.7 / 5.5 = 3.42
        ("32", 2, "campsite", 4),  # 32 / 1.7 / 5 = 3.76
        ("13", 1, "shop", 2),  # 13 / 6.5 = 2 exactly
        ("13.01", 1, "shop", 3),
        ("11.05", 2, "shop", 1),  # 11.05 / 1.7 = 6.5 exactly
        ("0", 1, "shop", 0),
    ],
)
def test_days_by_f26(hours, people, place, days):
    assert days_needed(Decimal(hours), people=people, place=place) == days


def test_days_by_f26_everywhere():
    """An own sum in exact fractions, from 0.1 h to 60 h."""
    hours_a_day = {"shop": Fraction(13, 2), "driveway": Fraction(11, 2), "campsite": Fraction(5)}
    for tenths in range(1, 600):
        for place, productive in hours_a_day.items():
            for people, saved in ((1, Fraction(1)), (2, Fraction(17, 10))):
                exact = Fraction(tenths, 10) / saved / productive
                told = days_needed(Decimal(tenths) / 10, people=people, place=place)
                assert told == -(-exact.numerator // exact.denominator), (tenths, place, people)


def test_own_speed_stretches_the_plan():
    # 20 h at 1.3 hours worked per hour planned = 26 h; 26 / 6.5 = 4
    assert days_needed(Decimal(20), people=1, place="shop", speed=Decimal("1.3")) == 4


def test_travel_beyond_the_first_hour_is_taken_off_the_day():
    assert productive_hours("driveway", 60) == Decimal("5.5")
    assert productive_hours("driveway", 150) == Decimal("4.0")  # 5.5 - (2.5 - 1)
    assert productive_hours("campsite", 600) == Decimal(1)
    assert days_needed(Decimal(12), people=1, place="driveway", travel_min=150) == 3  # 12 / 4


def test_an_hour_of_a_pair_is_the_work_of_1_7():
    lines = [
        SimpleNamespace(quantity=Decimal(quantity), is_pair=pair) for quantity, pair in (("3.6", 1), ("5", 0))
    ]
    assert one_person_hours(lines) == Decimal("11.12")  # 3.6 × 1.7 + 5
    # two people: 11.12 / 1.7 = 6.54 h, of which the pair's own 3.6 h take 3.6 h


def test_weekends_are_passed_over_where_the_bay_is_closed():
    friday = D(2026, 12, 4)
    assert work_days(Bay(), friday, 3) == [friday, D(2026, 12, 7), D(2026, 12, 8)]
    assert work_days(Bay(works_saturday=True), friday, 3) == [friday, D(2026, 12, 5), D(2026, 12, 7)]
    assert work_days(Bay(works_saturday=True, works_sunday=True), friday, 3)[-1] == D(2026, 12, 6)


class TestRelease:
    days = (D(2026, 12, 8), D(2026, 12, 9), D(2026, 12, 10))

    def test_a_roof_of_one_day_is_dry_before_the_work_is_done(self):
        release = release_of(list(self.days), roof_days=1, is_bonded=False)
        assert (release.sealed_on, release.cure_h, release.release_on) == (
            D(2026, 12, 8),
            24,
            D(2026, 12, 10),
        )

    def test_a_roof_sealed_on_the_last_day_keeps_the_vehicle_until_the_next(self):
        assert release_of(list(self.days), roof_days=3, is_bonded=False).release_on == D(2026, 12, 11)

    def test_bonded_rests_72_hours(self):
        release = release_of(list(self.days), roof_days=2, is_bonded=True)
        assert (release.cure_h, release.release_on) == (72, D(2026, 12, 12))

    def test_without_a_roof_it_drives_when_the_work_is_done(self):
        release = release_of(list(self.days), roof_days=0, is_bonded=True)
        assert (release.sealed_on, release.cure_h, release.release_on) == (None, 0, D(2026, 12, 10))


@pytest.mark.parametrize(
    ("promised", "before", "after", "told"),
    [
        (None, None, 10, 10),  # none yet: the first day it may drive
        (12, 10, 15, 17),  # two days behind it stays two days behind it
        (12, None, 10, 12),  # said before anything was booked, and good
        (9, None, 10, 10),  # said before anything was booked, and too early
        (9, 10, 15, 15),
        (12, 10, 8, 10),
    ],
)
def test_the_promise_follows(promised, before, after, told):
    def day(number):
        return None if number is None else D(2026, 12, number)

    assert promise_after(day(promised), day(before), day(after)) == day(told)
