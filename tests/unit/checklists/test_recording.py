"""Recording at a step: once each, all of a batch or none, nothing lost, nothing that cannot be."""

from __future__ import annotations

import random
import uuid

import pytest

import sizing
from checklists.models import StepEvent
from checklists.record.events import RecordRefused, events_record
from checklists.record.late import late_records
from checklists.record.read import work_of
from checklists.rules.entries import Entry, EntryRefused, checked_value
from checklists.rules.fields import FieldSpec
from jobs.models import Job
from jobs.shop.rights import NotAllowed
from tests.roles import step_of


def test_the_same_event_twice_is_stored_once(checklist, entry, bob, now):
    made = entry(checklist, "rest_volts", "rest_v", 12.6)
    first = events_record(checklist=checklist, entries=[made], actor=bob, at=now)
    again = events_record(checklist=checklist, entries=[made, made], actor=bob, at=now)
    assert first.new == (made.id,)
    assert again.new == ()
    assert again.known == (made.id,)
    assert StepEvent.objects.count() == 1


def test_one_bad_event_stops_the_whole_batch(checklist, entry, bob, now):
    good, bad = (
        entry(checklist, "rest_volts", "rest_v", 12.6),
        entry(checklist, "rest_volts", "soc_percent", 180),
    )
    with pytest.raises(RecordRefused, match="State of charge shown must be 0 to 100%, got 180"):
        events_record(checklist=checklist, entries=[good, bad], actor=bob, at=now)
    assert not StepEvent.objects.exists()


@pytest.mark.parametrize(
    ("role", "name", "value", "words"),
    [
        ("rest_volts", "rest_v", float("nan"), "a number is needed"),
        ("rest_volts", "rest_v", float("inf"), "a number is needed"),
        ("rest_volts", "rest_v", "12.6", "a number is needed"),
        ("rest_volts", "rest_v", True, "a number is needed"),
        ("rest_volts", "rest_v", 1e9, "must be 0 to 70 V"),
        ("rest_volts", "rest_v", -3, "must be 0 to 70 V"),
        ("appliances_tried", "tried", False, "a tick is true or is undone"),
        ("shore_power", "gfci", "maybe", "none of the choices"),
        ("vehicle_identity", "vin_tail", "1234567", "at most 6 characters"),
        ("vehicle_identity", "vin_tail", "   ", "nothing was written"),
        ("vehicle_identity", "vin_tail", 12, "text is needed"),
        ("dead_proof", "calibrated", "31.3.2027", "a date like 2027-03-31"),
        ("dead_proof", "calibrated", "1811-01-01", "1990 to 2100"),
        ("seal_count", "cable_holes", 1.5, "a whole number"),
        ("rest_volts", "no_such_field", 1, "has no field"),
        ("damage_found", "photo", None, "a photo is needed"),
        ("dc_dc_load", "input_v", 12, "not in scope"),
    ],
)
def test_what_cannot_be_is_refused_by_name(checklist, entry, bob, now, role, name, value, words):
    with pytest.raises(RecordRefused, match=words):
        events_record(checklist=checklist, entries=[entry(checklist, role, name, value)], actor=bob, at=now)


@pytest.mark.parametrize(
    ("unit", "most", "got", "metric", "imperial"),
    [
        # NIST SP 811 appendix B.8: 1 in-lb = 0.1129848 N·m; 50 N·m = 442.54 in-lb, 60 N·m = 531.04 in-lb
        ("N·m", 50, 60, "0 to 50 N·m, got 60", "0 to 442.54 in-lb, got 531.04"),
        ("mm", 254, 508, "0 to 254 mm, got 508", "0 to 10 in, got 20"),  # 25.4 mm an inch
        ("m", 30.48, 60.96, "0 to 30.48 m, got 60.96", "0\" to 100', got 200'"),  # 0.3048 m a foot
        ("°C", 60, 70, "0 to 60 °C, got 70", "32 to 140 °F, got 158"),
        ("V", 70, 900, "0 to 70 V, got 900", "0 to 70 V, got 900"),
    ],
)
def test_limits_are_said_in_the_shop_s_units(unit, most, got, metric, imperial):
    spec = FieldSpec("x", "number", "Value", unit=unit, min=0, max=most)
    with pytest.raises(EntryRefused) as refused:
        checked_value(spec, got)
    words = str(refused.value)
    assert sizing.in_units(words, "metric") == f"Value must be {metric}."
    assert sizing.in_units(words, "imperial") == f"Value must be {imperial}."


def test_a_wrong_unit_is_refused(checklist, entry, bob, now):
    made = entry(checklist, "wire_length", "run_len_m", 24, "circuit:C2", unit="ft")
    with pytest.raises(RecordRefused, match="the unit is m, got ft"):
        events_record(checklist=checklist, entries=[made], actor=bob, at=now)


def test_one_id_for_two_things_is_refused(checklist, entry, bob, now):
    name = uuid.uuid4()
    one = entry(checklist, "rest_volts", "rest_v", 12.6, id=name)
    other = entry(checklist, "rest_volts", "rest_v", 12.7, id=name)
    with pytest.raises(RecordRefused, match="twice with different content"):
        events_record(checklist=checklist, entries=[one, other], actor=bob, at=now)
    events_record(checklist=checklist, entries=[one], actor=bob, at=now)
    with pytest.raises(RecordRefused, match="used before for something else"):
        events_record(checklist=checklist, entries=[other], actor=bob, at=now)


def test_work_without_a_time_of_its_own_was_done_when_it_came(checklist, entry, bob, now):
    made = entry(checklist, "rest_volts", "rest_v", 12.6)
    assert made.claimed_at is None
    events_record(checklist=checklist, entries=[made], actor=bob, at=now)
    assert StepEvent.objects.get(pk=made.id).claimed_at == now


def test_a_step_of_another_job_is_refused(checklist, entry, bob, now):
    stray = Entry(id=uuid.uuid4(), step=999_999, field="rest_v", value=12.6)
    with pytest.raises(RecordRefused, match="not a step of this job"):
        events_record(checklist=checklist, entries=[stray], actor=bob, at=now)


def test_the_bookkeeper_and_a_stranger_record_nothing(checklist, entry, ken, charlie, now):
    for person in (ken, charlie):
        with pytest.raises(NotAllowed):
            events_record(
                checklist=checklist,
                entries=[entry(checklist, "rest_volts", "rest_v", 12.6)],
                actor=person,
                at=now,
            )


def test_nothing_is_recorded_on_a_job_that_has_ended(checklist, entry, bob, now):
    Job.objects.filter(pk=checklist.job_id).update(state=Job.State.RELEASED)
    with pytest.raises(RecordRefused, match="“Released”"):
        events_record(
            checklist=checklist, entries=[entry(checklist, "rest_volts", "rest_v", 12.6)], actor=bob, at=now
        )


def test_the_first_record_puts_the_job_in_work(checklist, record):
    record(checklist, "rest_volts", "rest_v", 12.6)
    assert Job.objects.get(pk=checklist.job_id).state == Job.State.IN_WORK


def test_an_unpaid_job_is_not_moved_past_its_deposit(checklist, record):
    Job.objects.filter(pk=checklist.job_id).update(state=Job.State.ACCEPTED)
    record(checklist, "rest_volts", "rest_v", 12.6)
    assert Job.objects.get(pk=checklist.job_id).state == Job.State.ACCEPTED


def test_two_people_at_one_lug_keep_both_values_and_ask(checklist, record, bob, lena):
    record(checklist, "torque", "plus_nm", 11.0, "joint:battery-1", actor=bob)
    record(checklist, "torque", "plus_nm", 9.0, "joint:battery-1", actor=lena)
    work = work_of(checklist)
    step = work.install.step("torque", "joint:battery-1")
    mark = work.install.mark(step)["plus_nm"]
    assert mark.mark == "conflict"
    assert "11 N·m (Bob Test)" in mark.sentence
    assert "9 N·m (Lena Test)" in mark.sentence
    assert "Which one is right?" in mark.sentence


def test_a_batch_may_come_in_any_order(checklist, entry, bob, now):
    first = entry(checklist, "rest_volts", "rest_v", 12.1)
    second = entry(checklist, "rest_volts", "rest_v", 12.6, replaces=(first.id,))
    third = Entry(id=uuid.uuid4(), step=first.step, verb="undo", undoes=second.id)
    batch = [third, second, first]
    random.Random(7).shuffle(batch)
    events_record(checklist=checklist, entries=batch, actor=bob, at=now)
    assert work_of(checklist).install.value("rest_volts", "rest_v") == 12.1


def test_a_page_goes_on_from_what_it_saw_and_misses_nothing(checklist, entry, record, bob, lena, now):
    record(checklist, "rest_volts", "rest_v", 12.1)
    seen = work_of(checklist)
    record(checklist, "rest_volts", "soc_percent", 80, actor=lena)  # meanwhile, by somebody else
    made = [
        entry(checklist, "rest_volts", "rest_v", 12.6),
        entry(checklist, "damage_found", "damage", "none"),
    ]
    done = events_record(
        checklist=checklist, entries=made, actor=bob, at=now, refuse_locked=True, seen=seen
    ).work
    anew = work_of(checklist)
    assert [row.pk for row in done.events] == [row.pk for row in anew.events]
    assert done.install.states == anew.install.states
    assert done.install.value("rest_volts", "soc_percent") == 80
    assert work_of(checklist, before=done).install.states == anew.install.states


def test_work_that_arrives_for_a_locked_phase_is_kept_and_marked(checklist, record):
    done = record(checklist, "frames_bonded", "resistance_ohm", 0.05)
    assert list(late_records(done.work)) == [StepEvent.objects.get().pk]
    assert done.work.install.value("frames_bonded", "resistance_ohm") == 0.05


def test_a_page_is_refused_while_the_phase_is_locked(checklist, entry, bob, now):
    with pytest.raises(RecordRefused, match="D9 Frames bonded is locked: C7 Layout accepted has not passed"):
        events_record(
            checklist=checklist,
            entries=[entry(checklist, "frames_bonded", "resistance_ohm", 0.05)],
            actor=bob,
            at=now,
            refuse_locked=True,
        )


def test_a_note_is_kept_with_its_step(checklist, bob, now):
    step = step_of(checklist, "damage_found")
    note = Entry(id=uuid.uuid4(), step=step.pk, verb="note", value="old dent by the door")
    work = events_record(checklist=checklist, entries=[note], actor=bob, at=now).work
    assert [each.value for each in work.install.state(work.install.step("damage_found")).notes] == [
        note.value
    ]
    for bad in ("", "x" * 2001, 3):
        with pytest.raises(RecordRefused, match="A note is text"):
            events_record(
                checklist=checklist,
                entries=[Entry(id=uuid.uuid4(), step=step.pk, verb="note", value=bad)],
                actor=bob,
                at=now,
            )


def test_an_undo_names_what_it_takes_back(checklist, bob, now):
    step = step_of(checklist, "damage_found").pk
    for verb, words in (("undo", "must name"), ("forget", "nothing that can be done")):
        with pytest.raises(RecordRefused, match=words):
            events_record(
                checklist=checklist, entries=[Entry(id=uuid.uuid4(), step=step, verb=verb)], actor=bob, at=now
            )
