"""The order of the work decides what was recorded while locked; the order of arrival never does."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checklists.models import Device, StepEvent
from checklists.record.events import Sent, events_record
from checklists.record.late import late_records
from checklists.record.read import with_readings, work_of
from checklists.rules.entries import Entry
from checklists.rules.install import OverrideInfo
from checklists.rules.reducer import RECORD, UNDO, Event
from checklists.rules.work_order import Office, Placed, Span, done_while_locked, in_order
from checklists.sheet.draft import sheet_draft
from tests.roles import step_of
from tests.unit.checklists.walk import good_value

pytestmark = pytest.mark.django_db
NOTHING = Office()
EVENING = dt.timedelta(hours=9)
QUICK = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def now() -> dt.datetime:
    return dt.datetime(2026, 11, 25, 15, 0, tzinfo=dt.UTC)


@pytest.fixture
def day(checklist, now):
    """Return the work read once, and a whole good day of one tablet in order, a minute a step."""
    work = work_of(checklist)
    return work, list(_in_order(work.install, now))


def _in_order(install, now, source="tablet"):
    count = 0
    for minute, step in enumerate(install.in_scope):
        for spec in install.specs(step):
            copies = spec.count if spec.is_photo and spec.required else 1
            for _ in range(copies):
                value = None if spec.is_photo else good_value(step, spec, now)
                if value is None and not (spec.is_photo and spec.required):
                    continue
                count += 1
                at = now + dt.timedelta(minutes=minute)
                event = Event(
                    id=uuid.UUID(int=count), step=step.pk, verb=RECORD, field=spec.name, value=value,
                    photo=uuid.UUID(int=10_000 + count) if spec.is_photo else None,
                    by_name="Lena Test", by_role="lead_technician", design_number=1, done_at=at,
                    received_at=at,
                )  # fmt: skip
                yield Placed(event, source, at, at, at, count, count)


def late(work, placed, office=NOTHING, only=()):
    return done_while_locked(work.install, placed, office, lambda then: with_readings(then, work.sized), only)


def arrived(placed, seed, start):
    """Return the same work received in the evening in another order, pictures after everything else."""
    chance = random.Random(seed)
    mixed = list(placed)
    chance.shuffle(mixed)
    if seed % 2:
        mixed.sort(key=lambda each: each.event.photo is not None)
    return [
        replace(each, received_at=start + EVENING + dt.timedelta(seconds=place), serial=place)
        for place, each in enumerate(mixed, start=1)
    ]


@QUICK
@given(seed=st.integers(0, 2**32 - 1))
def test_a_day_in_order_is_never_late_however_it_arrives(day, now, seed):
    work, placed = day
    assert late(work, arrived(placed, seed, now)) == {}


@settings(QUICK, max_examples=10)
@given(seed=st.integers(0, 2**32 - 1), share=st.integers(0, 100))
def test_work_out_of_order_is_told_the_same_however_it_arrives(day, now, seed, share):
    """The whole says the same in any order of arrival; out-of-order work is told in each of them."""
    work, placed = day
    early = [each for each in placed if work.steps[each.event.step].phase == "D"][: 1 + share]
    first = now - dt.timedelta(hours=1)
    moved = [
        replace(each, sequence=place - 10_000, claimed_at=first, done_at=first)
        for place, each in enumerate(early)
    ]
    whole = moved + [each for each in placed if each not in early]
    said = late(work, arrived(whole, seed, now))
    assert set(said) == {each.event.id for each in moved}
    assert said == late(work, arrived(whole, seed + 1, now))


def test_two_tablets_in_order_are_never_late(day, now):
    """Every other step by another tablet that is told of the first one's work in the evening only."""
    work, placed = day
    steps = {step.pk: place for place, step in enumerate(work.install.in_scope)}
    shared = [replace(each, source=f"tablet {steps[each.event.step] % 2}") for each in placed]
    for seed in range(4):
        assert late(work, arrived(shared, seed, now)) == {}


def test_what_a_tablet_could_not_know_makes_nothing_late(day, now):
    """Hand sum: layout taken back at 10:00 by one tablet, drilled at 10:05 by another that hears at 17:00."""
    work, placed = day
    accepted = next(
        each
        for each in placed
        if each.event.step == work.install.step("layout_accepted").pk and each.event.field == "accepted"
    )
    before = [each for each in placed if work.steps[each.event.step].phase <= "C"]
    back = Event(
        id=uuid.uuid4(), step=accepted.event.step, verb=UNDO, undoes=accepted.event.id, design_number=1
    )
    at = now + dt.timedelta(hours=5)
    undo = Placed(back, "office", at, at, at, 9_000)
    drilled = next(each for each in placed if work.steps[each.event.step].phase == "D")
    then = at + dt.timedelta(minutes=5)
    drilled = replace(drilled, claimed_at=then, done_at=then, received_at=then + EVENING, serial=9_001)
    assert set(late(work, [*before, undo, drilled])) == {drilled.event.id}  # it had been received
    unheard = replace(undo, source="other tablet", received_at=at + EVENING)
    assert late(work, [*before, unheard, drilled]) == {}


def _clock_wrong(each):
    if each.sequence % 7 == 0:
        back = dt.timedelta(days=2)
        return replace(each, claimed_at=each.claimed_at - back, done_at=each.done_at - back)
    return each if each.sequence % 11 else replace(each, done_at=each.done_at + dt.timedelta(days=400))


def test_a_clock_that_jumps_does_not_turn_a_tablets_own_order(day, now):
    work, placed = day
    wrong = [_clock_wrong(each) for each in arrived(placed, 1, now)]
    assert late(work, wrong) == {}
    order = [each.sequence for visit in in_order(wrong) for each in visit.placed]
    assert order == sorted(order)


def test_an_override_opens_from_the_moment_it_was_given(day, now):
    work, placed = day
    some = [each for each in placed if work.steps[each.event.step].phase != "C"]
    step = work.install.step("layout_accepted")
    items = work.holds.of_phase("C").items
    let = OverrideInfo(step.pk, "Olga", "seen on the roof", frozenset(item.key for item in items))
    drilled = {each.event.id for each in some if work.steps[each.event.step].phase == "D"}
    assert drilled <= set(late(work, some))
    assert not drilled & set(late(work, some, Office(overrides=(Span(let, now),))))
    after = Office(overrides=(Span(let, now + 2 * EVENING),))
    assert drilled <= set(late(work, some, after))
    assert set(late(work, some, only={step_of(work.checklist, "gland").pk})) < set(late(work, some))


# --- the same through the door ------------------------------------------------------------------------------


def send(checklist, person, placed, at, device=None):
    entries = [
        Entry(
            id=each.event.id, step=each.event.step, field=each.event.field, value=each.event.value,
            claimed_at=each.claimed_at, sequence=each.sequence,
        )
        for each in placed
    ]  # fmt: skip
    return events_record(
        checklist=checklist, entries=entries, actor=person, at=at, sent=Sent(device, offset_ms=0)
    )


@pytest.fixture
def tablet(checklist, lena, now):
    return Device.objects.create(
        shop=checklist.job.shop, key=uuid.uuid4(), person=lena, person_name="Lena Test", first_seen_at=now,
        last_seen_at=now,
    )  # fmt: skip


def without_photos(checklist):
    """Ask for no picture: they are stored elsewhere, and their place in the order is tested above."""
    for step in checklist.steps.all():
        step.fields = [spec for spec in step.fields if spec["kind"] != "photo"]
        step.save(update_fields=["fields"])


def test_batches_in_any_order_print_nothing_late(checklist, lena, now, tablet):
    without_photos(checklist)
    placed = list(_in_order(work_of(checklist).install, now))
    batches = [placed[place : place + 60] for place in range(0, len(placed), 60)]
    for place, batch in enumerate(reversed(batches)):
        send(checklist, lena, batch, now + EVENING + dt.timedelta(seconds=place), tablet)
    assert StepEvent.objects.count() == len(placed)
    assert late_records(work_of(checklist)) == {}
    content = sheet_draft(checklist).content
    assert content["late"] == []
    assert content["dates"]["last_record"] < content["dates"]["last_received"]


def test_work_out_of_order_prints_when_it_was_done_and_when_received(checklist, lena, now, tablet):
    """Screwed at 8:10 before the layout stood; sent at 17:00. Both times are told apart, with the lock."""
    step = step_of(checklist, "frames_fixed")
    entry = Entry(
        id=uuid.uuid4(), step=step.pk, field="torque_nm", value=8.0, sequence=1,
        claimed_at=now + dt.timedelta(minutes=10),
    )  # fmt: skip
    events_record(
        checklist=checklist, entries=[entry], actor=lena, at=now + EVENING, sent=Sent(tablet, offset_ms=0)
    )
    (row,) = sheet_draft(checklist).content["late"]
    assert row["code"] == step.code
    assert "8:10 AM" in row["at"]
    assert "5:00 PM" in row["received"]
    assert "Layout accepted" in " ".join(row["why"])


def test_a_replan_does_not_make_earlier_work_late(checklist, lena, now, tablet):
    """What a later revision asks anew, or adds, was not asked when the work of the first one was done."""
    without_photos(checklist)
    placed = list(_in_order(work_of(checklist).install, now))
    send(checklist, lena, placed, now + EVENING, tablet)
    checklist.steps.filter(phase__in="BC").update(since_design=2)
    assert late_records(work_of(checklist)) == {}
