"""Clocks of people: one at a time, ended by the next, asked about when forgotten, put right by hand.

Expected times are sums of the clock on the wall, done by hand beside each case.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random
import uuid
from typing import Any

import pytest

from checklists.rules.clocks import ClockEvent, Span, overlaps, spans_of

BOB, LENA = 1, 2
DAY = dt.datetime(2026, 11, 25, tzinfo=dt.UTC)


def at(clock: str, day: int = 0) -> dt.datetime:
    hour, minute = map(int, clock.split(":"))
    return DAY + dt.timedelta(days=day, hours=hour, minutes=minute)


def start(clock: str, phase: str = "D", who: int = BOB, **more: Any) -> ClockEvent:
    value = {"who": who, "name": f"Person {who}"}
    return ClockEvent(uuid.uuid4(), "start", at(clock), phase, value, **more)


def stop(event: ClockEvent, clock: str) -> ClockEvent:
    return ClockEvent(uuid.uuid4(), "stop", at(clock), value={"start": str(event.id)})


def correct(event: ClockEvent, begin: str, end: str, *, on: str = "20:00", **more: Any) -> ClockEvent:
    value = {"start": str(event.id), "from": at(begin).isoformat(), "to": at(end).isoformat()}
    return ClockEvent(uuid.uuid4(), "correct", at(on), value=value, reason="forgot to stop", **more)


def hours(spans: tuple[Span, ...], clock: str = "23:00") -> list[float]:
    return [round(span.hours(at(clock)), 4) for span in spans]


def test_from_start_to_stop():
    one = start("8:00")
    (span,) = spans_of([one, stop(one, "11:45")])
    assert (span.hours(at("23:00")), span.ended_by, span.phase) == (3.75, "stop", "D")


def test_the_next_start_ends_the_one_before_on_another_job_too():
    one, two = start("8:00", job=1), start("9:30", "E", job=2)
    first, second = spans_of([two, one])
    assert (first.hours(at("23:00")), first.ended_by, first.job) == (1.5, "next", 1)
    assert second.is_running
    assert second.hours(at("10:00")) == 0.5


def test_two_people_run_beside_each_other():
    one, two = start("8:00"), start("9:00", who=LENA)
    spans = spans_of([one, two, stop(one, "10:00"), stop(two, "10:00")])
    assert hours(spans) == [2.0, 1.0]


def test_of_two_stops_the_first_counts():
    one = start("8:00")
    assert hours(spans_of([one, stop(one, "16:00"), stop(one, "12:00")])) == [4.0]


def test_a_stop_before_its_start_is_no_negative_time():
    one = start("8:00")
    assert hours(spans_of([one, stop(one, "7:00")])) == [0.0]


def test_a_stop_whose_start_has_not_arrived_says_nothing_yet():
    one = start("8:00")
    assert spans_of([stop(one, "9:00")]) == ()


def test_a_long_one_is_asked_about_and_a_hand_answers():
    one = start("8:00")
    (span,) = spans_of([one])
    assert not span.is_asked(at("18:00"))
    assert span.is_asked(at("18:01"))
    (span,) = spans_of([one, correct(one, "8:00", "16:30")])
    assert (span.hours(at("23:00")), span.ended_by, span.reason) == (8.5, "hand", "forgot to stop")
    assert span.ran == (at("8:00"), None)
    assert not span.is_asked(at("23:00", day=1))


def test_both_times_are_kept():
    one = start("8:00")
    (span,) = spans_of([one, stop(one, "12:00"), correct(one, "8:30", "12:15")])
    assert (span.start, span.end, span.ran) == (at("8:30"), at("12:15"), (at("8:00"), at("12:00")))


def test_the_later_correction_counts_whatever_comes_first():
    one = start("8:00")
    early, late = correct(one, "8:00", "12:00", on="20:00"), correct(one, "8:00", "13:00", on="21:00")
    assert hours(spans_of([one, late, early])) == [5.0]


def test_a_correction_moves_the_phase_only_where_it_names_one():
    one = start("8:00", "D")
    assert spans_of([one, correct(one, "8:00", "9:00")])[0].phase == "D"
    assert spans_of([one, correct(one, "8:00", "9:00", phase="E")])[0].phase == "E"


def test_hours_without_a_clock():
    value = {"who": LENA, "name": "Lena", "from": at("8:00").isoformat(), "to": at("9:15").isoformat()}
    event = ClockEvent(uuid.uuid4(), "correct", at("20:00"), "F", value, reason="tablet was flat")
    (span,) = spans_of([event])
    assert (span.who, span.phase, span.hours(at("23:00")), span.ran) == (LENA, "F", 1.25, (None, None))


def test_a_start_taken_back_ran_for_nothing():
    one, two = start("8:00"), start("9:00", "E")
    undo = ClockEvent(uuid.uuid4(), "undo", at("9:01"), undoes=two.id)
    (span,) = spans_of([one, two, undo])
    assert span.is_running
    assert span.phase == "D"


def test_order_and_repeats_do_not_matter():
    one, two, three = start("8:00"), start("9:00", "E"), start("9:30", who=LENA)
    events = [one, two, three, stop(two, "10:00"), correct(one, "8:15", "8:45")]
    wanted = spans_of(events)
    for order in itertools.permutations(events):
        assert spans_of([*order, random.Random(1).choice(order)]) == wanted


@pytest.mark.parametrize("count", [200])
def test_nobody_ever_runs_two_clocks_at_once(count):
    rng = random.Random(7)
    for _ in range(count):
        starts = [
            start(f"{rng.randint(0, 20)}:{rng.randint(0, 59)}", job=rng.randint(1, 2)) for _ in range(6)
        ]
        stops = [stop(each, f"{rng.randint(0, 23)}:00") for each in starts if rng.random() < 0.6]
        spans = spans_of([*starts, *stops])
        for one, two in itertools.pairwise(spans):
            assert one.end is not None
            assert one.end <= two.start


class TestOverlaps:
    """Two spans of one person that a hand laid over one another; touching ends share nothing."""

    def two(self, until: str, who: int = BOB) -> tuple[Span, ...]:
        """Return a morning whose end a hand moved, and an afternoon from one to three."""
        first, second = start("08:00"), start("13:00", "E", who)
        fix = correct(first, "08:00", until)
        return spans_of([first, stop(first, "12:00"), second, stop(second, "15:00"), fix])

    def test_a_corrected_span_over_another_is_told(self):
        ((one, other),) = overlaps(self.two("13:30"), at("23:00"))
        assert (one.phase, other.phase) == ("D", "E")

    def test_end_to_end_is_no_overlap(self):
        assert not overlaps(self.two("13:00"), at("23:00"))

    def test_two_people_may_work_at_once(self):
        assert not overlaps(self.two("15:00", LENA), at("23:00"))

    def test_one_that_runs_reaches_until_now(self):
        running = start("08:00")
        fix = ClockEvent(
            uuid.uuid4(), "correct", at("20:00"), "H",
            {"who": BOB, "name": "Person 1", "from": at("09:00").isoformat(), "to": at("10:00").isoformat()},
            reason="flat battery",
        )  # fmt: skip
        assert len(overlaps(spans_of([running, fix]), at("21:00"))) == 1
        assert not overlaps(spans_of([running, fix]), at("08:30"))
