"""The pull list: what stands of loads and shortages, and what a job asks to be loaded."""

from __future__ import annotations

import math
import uuid
from decimal import Decimal
from typing import Any

import pytest

from checklists.record.pull import pull_list
from checklists.rules.loads import loads_of
from checklists.rules.reducer import Event
from jobs.engine.stored import result_of
from jobs.models import LineKind, Quote, QuoteLine


def event(verb: str, key: str, value: Any, *replaces: Event, **more: Any) -> Event:
    return Event(uuid.uuid4(), 0, verb, key, value, replaces=frozenset(one.id for one in replaces), **more)


def short(key: str, missing: float, *replaces: Event, note: str = "") -> Event:
    return event("short", key, {"missing": missing, "note": note}, *replaces)


def test_a_count_takes_the_place_of_the_one_it_names():
    one = event("load", "screws", 20)
    two = event("load", "screws", 44, one)
    assert loads_of([two, one]).loaded["screws"].value == 44


def test_two_counts_that_never_saw_each_other_both_stand():
    found = loads_of([event("load", "screws", 20), event("load", "screws", 44)])
    assert found.loaded["screws"].is_conflict


def test_a_load_taken_back_is_gone():
    one = event("load", "screws", 20)
    undo = Event(uuid.uuid4(), 0, "undo", undoes=one.id)
    assert "screws" not in loads_of([undo, one]).loaded


def test_a_shortage_stands_until_it_is_settled():
    one = short("part:3", 2, note="box was empty")
    (found,) = loads_of([one]).open_shortages
    assert (found.key, found.missing, found.note) == ("part:3", 2, "box was empty")
    assert loads_of([one, short("part:3", 0, one, note="two from the shelf")]).open_shortages == ()


def test_a_settled_shortage_that_somebody_never_saw_stays_open():
    one, other = short("part:3", 2), short("part:3", 1)
    (found,) = loads_of([one, other, short("part:3", 0, one)]).open_shortages
    assert found.missing == 1


@pytest.mark.django_db
class TestPullList:
    def of(self, checklist: Any) -> dict[str, Any]:
        return {line.text: line for line in pull_list(checklist)}

    def test_gear_is_counted_from_the_design(self, checklist):
        design, found = checklist.design, self.of(checklist)
        panels = design.panels.filter(existing=None)
        assert found[panels.first().part.name].quantity == panels.count()
        assert found[design.bank.part.name].quantity == design.bank.quantity
        assert found[design.controllers.first().part.name].quantity == design.controllers.count()

    def test_cable_is_both_conductors_with_a_tenth_in_whole_feet(self, checklist):
        # C2 of the golden job: its path twice, a tenth for cut-offs (jobs/quote/materials.py), rounded up.
        lengths = [line for line in pull_list(checklist) if line.unit == "m"]
        assert lengths
        for line in lengths:
            feet = line.quantity / 0.3048  # the foot: NIST SP 811, appendix B
            assert math.isclose(feet, round(feet), abs_tol=1e-4), line
        rows = [row for row in result_of(checklist.run).circuits if row.size and row.run_len_m]
        least_m = sum(2 * row.run_len_m * 1.1 for row in rows if row.id not in {"C13", "C14", "C15"})
        total_m = sum(line.quantity for line in lengths)
        assert least_m <= total_m <= least_m + len(lengths) * 0.3048 + 0.1 * len(rows)

    def test_screws_are_those_of_the_plan_and_a_tenth(self, checklist):
        found = result_of(checklist.run).penetrations
        screws = found.foot_fasteners + found.gland_screws
        assert self.of(checklist)["Screws for feet and gland box"].quantity == math.ceil(screws * 1.1)

    def test_every_fuse_has_a_holder_and_its_rating_two_spares(self, checklist):
        ratings = [row.fuse_a for row in result_of(checklist.run).circuits if row.fuse_a]
        found = self.of(checklist)
        assert found["Fuse holders and blocks"].quantity == len(ratings)
        for rating_a in set(ratings):
            assert found[f"Spare fuse {rating_a:g} A"].quantity == 2  # the trade's handbook, pull list

    def test_what_the_quote_sold_is_on_the_list(self, checklist):
        quote = Quote.objects.get(job=checklist.job, state="accepted")
        for text, kind, optional in (
            ("Roof rack bars", LineKind.PART, False),
            ("Owner's own lamp", LineKind.CUSTOMER_PART, False),
            ("Second monitor", LineKind.PART, True),
            ("Driving", LineKind.TRAVEL, False),
        ):
            QuoteLine.objects.create(
                quote=quote, kind=kind, text=text, quantity=Decimal(2), is_optional=optional
            )
        found = self.of(checklist)
        assert found["Roof rack bars"].quantity == 2
        assert found["Owner's own lamp"].note == "the customer's own"
        assert not {"Second monitor", "Driving"} & found.keys()

    def test_every_key_is_its_own_and_short(self, checklist):
        keys = [line.key for line in pull_list(checklist)]
        assert len(keys) == len(set(keys))
        assert max(map(len, keys)) <= 40

    def test_the_list_reads_the_same_every_time(self, checklist):
        assert pull_list(checklist) == pull_list(checklist)
