"""A later revision becomes the plan: what is recorded stays, only what it touches is asked anew."""

from __future__ import annotations

import uuid

import pytest

from checklists.models import Checklist, PlanChange, StepEvent
from checklists.office.plan_change import PlanChangeRefused, plan_change
from checklists.record.events import events_record
from checklists.record.missed import events_after
from checklists.record.read import work_of
from checklists.rules.as_built import as_built_values
from checklists.rules.entries import Entry
from checklists.sheet.draft import sheet_draft
from jobs.design.revision import design_create, design_resize
from jobs.models import DesignCircuit, LogEntry, Part
from jobs.shop.rights import NotAllowed
from tests.roles import code_of, step_of

WHY = "controller swapped for the next size"


@pytest.fixture
def revise(checklist, erin, now):
    """Return a maker of the next revision, changed and sized."""

    def make(change=lambda design: None):
        newest = checklist.job.designs.order_by("-number").first()
        design = design_create(job=checklist.job, actor=erin, at=now, copy_of=newest)
        change(design)
        design_resize(design, actor=erin, at=now)
        design.refresh_from_db()
        return design

    return make


def other_controller(design, name="Tracking controller, 28 A"):
    unit = design.controllers.get(label="A")
    unit.part = Part.objects.get(name=name)
    unit.save()


def longer_run(design):
    DesignCircuit.objects.filter(design=design, label="C2").update(run_len_m=9.0)


@pytest.fixture
def adopt(checklist, erin, now):
    def make(design, **more):
        given = {"checklist": checklist, "design": design, "reason": WHY, "actor": erin, "at": now} | more
        return plan_change(**given)

    return make


def reopened(checklist):
    work = work_of(Checklist.objects.select_related("design", "run", "job__shop").get(pk=checklist.pk))
    return {
        f"{step.role} {step.subject}".strip()
        for step in work.install.in_scope
        if work.install.is_reopened(step)
    }


@pytest.fixture
def a_day_of_work(checklist, entry, bob, now):
    """Record something at a step of every kind, on revision 1."""
    rows = [
        ("rest_volts", "rest_v", 12.6, ""), ("appliances_tried", "tried", True, ""),
        ("strings_built", "ns", 2, ""), ("strings_built", "np", 2, ""),
        ("wire_length", "run_len_m", 7.2, "circuit:C2"), ("pv_switch", "rating_v", 150.0, "controller:A"),
        ("torque", "plus_nm", 10.0, "joint:battery-1"), ("torque", "plus_nm", 1.5, "joint:controller-A"),
        ("charger_settings", "absorb_v", 14.2, "source:A"),
        ("first_charge", "battery_v", 13.3, "controller:A"),
        ("string_fuse", "fuse_a", 15.0, "string:1"),
    ]  # fmt: skip
    entries = [entry(checklist, role, name, value, subject) for role, name, value, subject in rows]
    entries.append(entry(checklist, "charger_settings", "absorb_v", 14.3, _converter(checklist)))
    return events_record(checklist=checklist, entries=entries, actor=bob, at=now)


def _converter(checklist):
    return next(
        step.subject
        for step in checklist.steps.filter(code=code_of(checklist, "charger_settings"))
        if step.subject != "source:A"
    )


def test_another_controller_reopens_exactly_the_steps_that_touch_it(checklist, a_day_of_work, revise, adopt):
    # Which steps those are is common practice of installers, no printed source.
    adopt(revise(other_controller))
    assert reopened(checklist) == {
        "strings_built", "pv_switch controller:A", "torque joint:controller-A",
        "charger_settings source:A", "first_charge controller:A",
    }  # fmt: skip


def test_nothing_recorded_is_lost_or_rewritten(checklist, a_day_of_work, revise, adopt):
    before = list(StepEvent.objects.order_by("pk").values())
    adopt(revise(other_controller))
    assert list(StepEvent.objects.order_by("pk").values()) == before
    assert {row["design_number"] for row in before} == {1}


def test_the_sheet_tells_of_it_with_who_when_and_why(checklist, revise, adopt):
    adopt(revise(other_controller))
    (row,) = sheet_draft(
        Checklist.objects.select_related("job__shop", "design").get(pk=checklist.pk)
    ).content["plan_changes"]
    assert (row["from"], row["to"], row["by"], row["reason"]) == (1, 2, "Erin Test", WHY)
    assert row["at"].startswith("Nov 25, 2026, ")


def test_a_reopened_step_says_which_revision_it_was_done_on(checklist, a_day_of_work, revise, adopt):
    adopt(revise(other_controller))
    work = work_of(Checklist.objects.select_related("design", "run", "job__shop").get(pk=checklist.pk))
    step = work.install.step("pv_switch", "controller:A")
    assert (
        "done on revision 1; the plan has changed, look again" in work.install.mark(step)["rating_v"].sentence
    )
    assert work.install.whole_state(step)["rating_v"].value == 150.0
    told = events_after(Checklist.objects.select_related("design", "run").get(pk=checklist.pk), 0)
    assert told["design_number"] == 2
    assert step.pk in told["reopened"]


def test_recorded_again_it_is_done(checklist, a_day_of_work, revise, adopt, record):
    adopt(revise(other_controller))
    old = StepEvent.objects.get(step__code=code_of(checklist, "pv_switch"), field="rating_v")
    fresh = Checklist.objects.get(pk=checklist.pk)
    record(fresh, "pv_switch", "rating_v", 150.0, "controller:A", replaces=(old.pk,))
    work = work_of(Checklist.objects.select_related("design", "run", "job__shop").get(pk=checklist.pk))
    step = work.install.step("pv_switch", "controller:A")
    assert work.install.state(step)["rating_v"].value == 150.0
    assert not work.install.state(step)["rating_v"].is_conflict


def test_work_done_offline_on_the_old_plan_is_kept_and_asked_anew(checklist, revise, adopt, entry, bob, now):
    adopt(revise(other_controller))
    fresh = Checklist.objects.get(pk=checklist.pk)
    late = [
        entry(fresh, "pv_switch", "rating_v", 150.0, "controller:A", design_number=1),
        entry(fresh, "rest_volts", "rest_v", 12.6, design_number=1),
    ]
    done = events_record(checklist=fresh, entries=late, actor=bob, at=now)
    assert len(done.new) == 2
    assert reopened(checklist) == {"pv_switch controller:A"}
    assert done.work.install.value("rest_volts", "rest_v") == 12.6


def test_a_longer_run_reopens_its_length_alone(checklist, a_day_of_work, revise, adopt):
    adopt(revise(longer_run))
    assert reopened(checklist) == {"wire_length circuit:C2"}
    assert step_of(checklist, "wire_length", "circuit:C2").fields[0]["expected"] == 9.0


def test_a_value_of_the_old_plan_feeds_the_sums_no_more(checklist, a_day_of_work, revise, adopt, record):
    record(checklist, "wire_length", "run_len_m", 14.0, "circuit:C3")
    record(checklist, "wire_length", "run_len_m", 12.0, "circuit:C2",
           replaces=(StepEvent.objects.get(step__subject="circuit:C2").pk,))  # fmt: skip
    adopt(revise(longer_run))
    work = work_of(Checklist.objects.select_related("design", "run", "job__shop").get(pk=checklist.pk))
    built = as_built_values(work.install)
    assert "circuit:C2.run_len_m" not in built
    assert built["circuit:C3.run_len_m"] == 14.0
    assert work.checklist.as_built == built
    assert work.run.design_id == work.checklist.design_id


def test_the_same_plan_again_reopens_nothing_and_keeps_every_charger(checklist, a_day_of_work, revise, adopt):
    rows = {step.pk for step in checklist.steps.all()}
    adopt(revise())
    assert reopened(checklist) == set()
    assert {step.pk for step in checklist.steps.all()} == rows
    value = StepEvent.objects.get(field="absorb_v", value=14.3)
    assert value.step.subject == _converter(checklist)
    assert value.step.is_in_scope


def test_a_part_that_is_gone_keeps_its_record_out_of_scope(checklist, a_day_of_work, revise, adopt):
    gone = StepEvent.objects.get(field="absorb_v", value=14.3).step

    adopt(
        revise(
            lambda design: (
                design.sources.all().delete(),
                design.circuits.filter(serves__startswith="source").delete(),
            )
        )
    )
    gone.refresh_from_db()
    assert not gone.is_in_scope
    assert gone.events.count() == 1


def test_what_was_asked_before_is_kept_and_logged(checklist, a_day_of_work, revise, adopt, erin):
    design = revise(longer_run)
    adopt(design)
    change = PlanChange.objects.get()
    assert (change.from_design.number, change.to_design, change.by) == (1, design, erin)
    assert [row["fields"][0]["expected"] for row in change.steps_before if row["code"] == "F1"] == [7.2]
    design.refresh_from_db()
    assert design.is_frozen
    assert LogEntry.objects.filter(verb="plan changed", reason=WHY).exists()


def test_what_cannot_be(checklist, revise, adopt, bob, now):
    design = revise(longer_run)
    with pytest.raises(PlanChangeRefused, match="15 characters"):
        adopt(design, reason="because")
    with pytest.raises(NotAllowed):
        adopt(design, actor=bob)
    with pytest.raises(PlanChangeRefused, match="later than 1"):
        adopt(checklist.design)
    blocked = revise(lambda made: other_controller(made, "PWM controller 20 A"))
    with pytest.raises(PlanChangeRefused, match="says block"):
        adopt(blocked)
    adopt(design)
    with pytest.raises(PlanChangeRefused, match="later than 2"):
        adopt(design)
    assert PlanChange.objects.count() == 1


def test_an_event_of_a_revision_not_in_use_is_refused(checklist, revise, entry, bob, now):
    revise(longer_run)
    made = Entry(id=uuid.uuid4(), step=checklist.steps.first().pk, field="x", design_number=2)
    with pytest.raises(Exception, match="this job is on 1"):
        events_record(checklist=checklist, entries=[made], actor=bob, at=now)
