"""What nobody may pass by leaving it blank, and what a lead technician or the owner decides by name.

The bands are those of the list of steps (1 V, 5 V, 20% of moisture, 1.5 times the design load of a foot).
That a quarter of the inverter or the biggest load aboard makes a load test is common practice, no source.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from checklists.plan.bands import LEAST_LOAD_W, _load, string_bands
from checklists.plan.steps import planned_steps
from checklists.rules.fields import spec_from_json
from checklists.rules.judging import Mark
from tests.unit.checklists.pure_job import PureJob, facts_of

WHOLE = ("panels", "battery", "inverter", "screwed")
TECH = {"by_role": "technician", "by_name": "Tobin Reyes"}


def mark(job, role, name, subject=""):
    return job.install.mark(job.step(role, subject))[name]


class TestProvenDead:
    @pytest.mark.parametrize(
        ("aboard", "asked"),
        [
            ("both", {"inverter_v", "ac_v"}), ("inverter", {"inverter_v"}), ("panel", {"ac_v"}),
            ("neither", set()),
        ],
    )  # fmt: skip
    def test_what_is_aboard_is_measured(self, aboard, asked):
        job = PureJob(WHOLE)
        job.record("proven_dead", "aboard", aboard)
        blank = {
            name for name in ("inverter_v", "ac_v") if mark(job, "proven_dead", name).mark is Mark.MISSING
        }
        assert blank == asked

    def test_nobody_passes_without_saying_what_is_aboard(self):
        job = PureJob(WHOLE)
        for name, value in (("meter", "M-07"), ("meter_calibrated", "2026-03-01"), ("bus_v", 0.1)):
            job.record("proven_dead", name, value)
        assert mark(job, "proven_dead", "aboard").mark is Mark.MISSING


class TestWetWood:
    @pytest.mark.parametrize(("name", "value"), [("moisture_percent", 27.0), ("soft", "found")])
    def test_it_holds_the_roof_until_a_lead_decides(self, name, value):
        job = PureJob(WHOLE)
        job.record("roof_checked", name, value)
        found = mark(job, "roof_checked", name)
        assert (found.mark, found.suggests_change_order) == (Mark.FAIL, True)
        job.record("roof_checked", "decided", "Rafters only, dry there", **TECH)
        assert mark(job, "roof_checked", name).mark is Mark.FAIL
        assert "counts only from a lead" in mark(job, "roof_checked", "decided").sentence
        job.record("roof_checked", "decided", "Rafters only, dry there")
        assert mark(job, "roof_checked", name).mark is Mark.CAUTION
        assert mark(job, "roof_checked", "decided").mark is Mark.OK

    def test_it_keeps_mounting_shut(self):
        job = PureJob(WHOLE)
        job.record("roof_checked", "moisture_percent", 27.0)
        assert job.locks("feet", "panel:1")
        assert any("wet wood" in item.sentence for item in job.hold("layout_accepted").items)
        job.record("roof_checked", "moisture_percent", 12.0)
        assert not any("wet wood" in item.sentence for item in job.hold("layout_accepted").items)


class TestPull:
    def pull(self, foot_test_n):
        facts = facts_of(WHOLE) | {"foot_test_n": foot_test_n}
        return next(step for step in planned_steps(facts, "2") if step.code == "D3").fields

    def test_without_a_known_load_it_is_not_enough_data(self):
        fields = {each["name"]: each for each in self.pull(None)}
        assert "not enough data" in fields["pull_n"]["undecided"]
        assert fields["decided"]["lead"] is True
        assert spec_from_json(fields["pull_n"]).excused_by == "decided"

    def test_with_one_nothing_is_left_to_decide(self):
        fields = {each["name"]: each for each in self.pull(309.0)}
        assert fields["pull_n"]["low"] == 309.0
        assert not {"undecided", "excused_by", "excused_by_lead"} & fields["pull_n"].keys()
        assert "decided" not in fields

    def test_a_lead_decides_by_name(self, monkeypatch):
        facts = facts_of(WHOLE) | {"foot_test_n": None}
        monkeypatch.setattr("tests.unit.checklists.pure_job.facts_of", lambda scopes: facts)
        job = PureJob(WHOLE)
        job.record("test_pull", "pull_n", 500.0, **TECH)
        assert mark(job, "test_pull", "pull_n").mark is Mark.FAIL
        job.record("test_pull", "decided", "500 N is three times what any foot here carries", **TECH)
        assert mark(job, "test_pull", "pull_n").mark is Mark.FAIL
        job.record("test_pull", "decided", "500 N is three times what any foot here carries")
        assert mark(job, "test_pull", "pull_n").mark is Mark.CAUTION


class TestCharging:
    def test_nothing_is_no_charge_unless_somebody_says_why(self):
        job = PureJob(WHOLE)
        job.record("charge_sum", "sum_a", 0)
        assert mark(job, "charge_sum", "sum_a").mark is Mark.FAIL
        job.record("charge_sum", "reason", "full")
        assert mark(job, "charge_sum", "sum_a").mark is Mark.OK

    def test_a_reason_lets_no_excess_pass(self):
        job = PureJob(WHOLE)
        job.record("charge_sum", "reason", "full")
        job.record("charge_sum", "sum_a", 1999)
        assert mark(job, "charge_sum", "sum_a").mark is Mark.FAIL


class TestLicensed:
    def test_a_name_alone_does_not_count(self):
        job = PureJob(WHOLE)
        job.record("licensed_person", "licensed_name", "Lee Wright", **TECH)
        job.record("licensed_person", "licence_no", "EL 4471", **TECH)
        assert not job.hold("licensed_person").is_passed
        for how in ("self", "lead"):  # by somebody who is neither
            job.record("licensed_person", "confirmed", how, **TECH)
            assert mark(job, "licensed_person", "confirmed").mark is Mark.FAIL

    def test_the_person_confirms_signed_in(self):
        job = PureJob(WHOLE)
        job.record("licensed_person", "licensed_name", "Lee Wright", **TECH)
        job.record("licensed_person", "licence_no", "EL 4471", **TECH)
        job.record("licensed_person", "confirmed", "self", by_name="Lee Wright", by_role="technician")
        assert mark(job, "licensed_person", "confirmed").mark is Mark.OK
        job.record("ac_accepted", "accepted", True, by_name="Lena Test", by_role="lead_technician")
        assert mark(job, "ac_accepted", "accepted").mark is Mark.MISSING  # Lee has a sign-in of their own
        job.record("ac_accepted", "accepted", True, by_name="Lee Wright", by_role="technician")
        assert mark(job, "ac_accepted", "accepted").mark is Mark.OK

    def test_a_lead_records_for_a_person_without_a_sign_in(self):
        job = PureJob(WHOLE)
        job.record("licensed_person", "licensed_name", "Lee Wright", **TECH)
        job.record("licensed_person", "confirmed", "lead", by_name="Lena Test", by_role="lead_technician")
        assert mark(job, "licensed_person", "confirmed").mark is Mark.OK
        job.record("ac_accepted", "accepted", True, **TECH)
        assert mark(job, "ac_accepted", "accepted").mark is Mark.MISSING
        job.record("ac_accepted", "accepted", True, by_name="Lena Test", by_role="lead_technician")
        assert mark(job, "ac_accepted", "accepted").mark is Mark.OK


class TestBands:
    @pytest.mark.parametrize(
        ("rating_w", "loads_w", "low_w"),
        [
            (2000, [], 500),  # a quarter
            (2000, [1500, 60], 500),
            (2000, [300], 300),  # nothing bigger is aboard
            (2000, [10], LEAST_LOAD_W),
        ],
    )
    def test_the_biggest_load_aboard_tests_the_system(self, rating_w, loads_w, low_w):
        loads = [SimpleNamespace(bus="ac", power_w=one) for one in loads_w]
        loads.append(SimpleNamespace(bus="dc", power_w=5000))
        system = SimpleNamespace(inverter=SimpleNamespace(power_w=rating_w), loads=loads)
        assert _load(system)["load_low_w"] == low_w

    def test_a_string_without_data_sheets_has_limits_by_its_panels(self):
        """Two panels of 17 to 65 V: a daylight share of 0.7 of 34 V, and 130 V."""
        unknown = SimpleNamespace(voc_v=0.0)
        panels = [SimpleNamespace(id=one, panel=unknown) for one in "12"]
        string = SimpleNamespace(panel_ids=("1", "2"), controller_id="A", fuse_a=None)
        found = string_bands(string, SimpleNamespace(panels=panels), SimpleNamespace(controllers=[]))
        assert (found["polarity_low_v"], found["polarity_high_v"]) == (23.8, 130.0)
