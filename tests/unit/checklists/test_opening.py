"""Opening the install record: which steps appear for which design, with the planned values frozen in."""

from __future__ import annotations

import pytest

from checklists.models import Checklist
from checklists.office.opening import checklist_open
from jobs.models import Quote
from jobs.quote.accepted import quote_accepted
from jobs.shop.actor import ByName
from tests.roles import code_of, step_of


def subjects(checklist, role):
    code = code_of(checklist, role)
    return list(checklist.steps.filter(code=code, is_in_scope=True).values_list("subject", flat=True))


def test_the_golden_job_gets_its_steps(checklist):
    assert checklist.scope == ["battery", "inverter", "panels", "screwed"]
    assert subjects(checklist, "seal_under") == ["panel:1", "panel:2", "panel:3", "panel:4", "gland:box"]
    assert subjects(checklist, "string_polarity") == ["string:1", "string:2"]
    assert subjects(checklist, "wire_length") == [
        f"circuit:{each}" for each in ("C1", "C2", "C3", "C10", "C11")
    ]
    assert subjects(checklist, "main_fuse") == ["circuit:C4"]
    assert "circuit:C4" not in subjects(checklist, "protection")
    assert subjects(checklist, "inverter_cable") == ["circuit:C6"]
    assert subjects(checklist, "battery") == ["battery:1", "battery:2", "battery:3"]
    assert len(subjects(checklist, "charger_settings")) == 2
    assert not step_of(checklist, "dc_dc_load").is_in_scope


def test_a_charger_is_set_to_the_profile_of_the_bank(checklist):
    """Lithium: float off or low, no equalizing, no compensation (battery and charger makers' guides)."""
    step = step_of(checklist, "charger_settings", "source:A")
    (says,) = (row["says"] for row in step.card)
    assert says.startswith("Absorb 14.2 V, short hold; float off or 13.2 to 13.8 V; no equalize")
    assert says.endswith("at most 50 A.")
    asked = {field["name"]: field for field in step.fields}
    assert (asked["absorb_v"]["low"], asked["absorb_v"]["high"]) == (14.1, 14.3)
    assert "low" not in asked["float_v"]  # off is right too
    assert asked["float_v"]["high"] == pytest.approx(13.8)
    assert (asked["low_t_stop_c"]["expected"], asked["low_t_stop_c"]["low"]) == (5.0, 0.0)


def test_planned_values_stand_in_the_fields(checklist):
    length = step_of(checklist, "wire_length", "circuit:C2").fields[0]
    assert length["expected"] == 7.2
    assert length["feeds"] == "circuit:C2.run_len_m"
    screws = step_of(checklist, "feet", "panel:1").fields
    assert {field["name"]: field.get("expected") for field in screws}["holes"] == 16
    assert step_of(checklist, "wire_length", "circuit:C2").re_runs == ["circuit:C2.run_len_m"]


def test_the_pull_test_asks_one_and_a_half_times_the_design_load(checklist):
    # By hand: 1350 Pa × 1.49 m × 0.67 m - 11.5 kg × 9.80665 = 1235 N a panel, 4 feet, × 1.5 = 463 N
    pull = next(f for f in step_of(checklist, "test_pull").fields if f["name"] == "pull_n")
    assert abs(pull["low"] - 463) < 5


def test_opening_twice_gives_the_same_record(checklist, now):
    quote = Quote.objects.get(job=checklist.job)
    assert checklist_open(quote=quote, at=now) == checklist
    assert Checklist.objects.count() == 1


def test_an_accepted_quote_opens_it_by_itself(golden_job, now):
    from jobs.design.revision import design_freeze
    from jobs.engine.stored import latest_run

    design = golden_job.designs.first()
    design_freeze(design=design, actor=ByName("Test"), at=now)
    quote = Quote.objects.create(
        job=golden_job, design=design, run=latest_run(design), number=91, state="accepted"
    )
    quote_accepted.send(sender=Quote, quote=quote, at=now)
    assert Checklist.objects.get(job=golden_job).steps.filter(is_in_scope=True).count() > 100


def test_the_record_does_not_move_when_the_catalogue_does(checklist):
    """A longer list price or another planned length later leaves what was asked for alone."""
    before = list(checklist.steps.values_list("code", "subject", "fields"))
    checklist.design.circuits.update(run_len_m=99)
    assert list(checklist.steps.values_list("code", "subject", "fields")) == before
