"""What is kept of a job's events is what all of them give, however they arrive; a fault in it is found."""

from __future__ import annotations

import random
import time
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from checklists.models import KeptEvents, StepEvent
from checklists.record import kept as stored
from checklists.record.read import event_of, work_of
from checklists.rules.kept import Kept, Told, kept_of
from checklists.rules.reducer import reduce_events
from checklists.sheet.draft import sheet_draft
from common.guard import door_opened
from tests.unit.checklists.test_reducer import value
from tests.unit.checklists.test_tablet_mirrors import python_event, random_events


def in_batches(luck: random.Random, events):
    """Return what is kept after a history came in batches of one to four."""
    kept, so_far = Kept(), {}
    waiting = list(events)
    while waiting:
        batch = [waiting.pop(0) for _ in range(min(len(waiting), luck.randint(1, 4)))]
        so_far |= {event.id: event for event in batch}
        kept = kept.added(batch, Told(so_far))
    return kept


@pytest.mark.parametrize("seed", range(20))
def test_what_is_kept_is_what_all_events_give(seed):
    """150 random histories a seed, at any order: undos that come first, rings, notes, three safety lines."""
    luck = random.Random(20261130 + seed)
    for _ in range(150):
        events = list({e["id"]: e for e in random_events(luck)}.values())
        history = [python_event(each) for each in events]
        kept = in_batches(luck, history)
        full = reduce_events(history)
        assert kept.states == full
        assert list(kept.states) == list(full)
        whole = kept_of(history)
        assert (kept.fields, kept.states) == (whole.fields, whole.states)


def test_a_long_chain_of_values_in_one_field():
    """A handwritten history: each replaces the one before, the value alternates, so one value is old."""
    chain = [value(n, n % 2, replaces=(n - 1,) if n > 1 else ()) for n in range(1, 401)]
    kept = in_batches(random.Random(1), chain)
    state = kept.states[1]["torque"]
    assert [event.id for event in state.standing] == [uuid.UUID(int=400)]
    assert (state.value, state.redo_count) == (0, 1)


class _Never:
    def event(self, name):
        raise AssertionError("no history is needed")

    field = event


def test_a_plain_value_asks_for_no_history():
    kept = kept_of([value(n, n, replaces=(n - 1,) if n > 1 else ()) for n in range(1, 50)])
    more = kept.added([value(50, 7, replaces=(49,))], _Never())
    assert more.states[1]["torque"].value == 7


def test_a_chain_costs_its_length():
    """Ten times the chain in less than forty times the time; it was a hundred times before."""

    def seconds(length: int) -> float:
        chain = [value(n, n, replaces=(n - 1,)) for n in range(1, length)]
        begun = time.process_time()
        reduce_events(chain)
        return time.process_time() - begun

    short = min(seconds(1000) for _ in range(5))
    assert min(seconds(10_000) for _ in range(2)) < 40 * short


@pytest.fixture
def keeps(monkeypatch):
    """Keep what stands of the shortest job."""
    monkeypatch.setattr(stored, "LEAST", 0)
    monkeypatch.setattr(stored, "LEAST_SHARE", 0)


@pytest.fixture
def store(checklist, bob, now):
    """Return a way to store events as they are, without the rules of what may be recorded."""
    steps = {n: step.pk for n, step in enumerate(checklist.steps.order_by("pk")[:2], 1)}

    def write(events):
        last = StepEvent.objects.filter(checklist=checklist).count()
        rows = [
            StepEvent(
                id=uuid.UUID(each["id"]), checklist=checklist, serial=serial, step_id=steps[each["step"]],
                verb=each["verb"], field=each["field"], value=each["value"], replaces=each["replaces"],
                undoes=each["undoes"] and uuid.UUID(each["undoes"]), by=bob, by_name="Bob", claimed_at=now,
                received_at=now, design_number=each["design_number"],
            )
            for serial, each in enumerate(events, last + 1)
        ]  # fmt: skip
        StepEvent.objects.bulk_create(rows)

    return write


def full(checklist):
    return reduce_events(event_of(row) for row in StepEvent.objects.filter(checklist=checklist))


@pytest.mark.parametrize("seed", range(8))
def test_what_is_stored_is_what_all_events_give(keeps, checklist, store, seed):
    luck = random.Random(seed)
    for _ in range(6):
        with door_opened():
            StepEvent.objects.all().delete()
        KeptEvents.objects.all().delete()
        events = [e for e in {e["id"]: e for e in random_events(luck)}.values() if not e["photo"]]
        while events:
            size = luck.randint(1, 3)
            store(events[:size])
            events = events[size:]
            seen = stored.seen_of(checklist, event_of)
            assert seen.kept.states == full(checklist)
            stored.kept_write(seen)
        again = stored.seen_of(checklist, event_of)
        assert again.rows is None or not StepEvent.objects.exists()
        assert again.kept.states == full(checklist)


@pytest.fixture
def a_few(keeps, checklist, record, store):
    """Have three values stored and kept."""
    record(checklist, "rest_volts", "rest_v", 12.6)
    record(checklist, "rest_volts", "rest_v", 12.7)
    return checklist


def test_a_record_keeps_what_stands(a_few):
    kept = KeptEvents.objects.get()
    assert (kept.serial, kept.count) == (2, 2)
    assert stored.seen_of(a_few, event_of).rows is None
    assert work_of(a_few).install.states == full(a_few)
    assert len(work_of(a_few).events) == 2


@pytest.mark.parametrize(
    "fault",
    [
        lambda kept: KeptEvents.objects.update(body=kept.body.replace('"early":[]', '"early": []')),
        lambda kept: KeptEvents.objects.update(serial=1),
        lambda kept: StepEvent.objects.filter(serial=1).delete(),
        lambda kept: StepEvent.objects.filter(serial=2).delete(),
    ],
)
def test_a_fault_in_what_is_kept_is_found_and_mended(a_few, record, caplog, fault):
    with door_opened():
        fault(KeptEvents.objects.get())
    assert work_of(a_few).install.states == full(a_few)
    assert "checklist" in caplog.text
    record(a_few, "rest_volts", "rest_v", 12.8)
    caplog.clear()
    assert stored.seen_of(a_few, event_of).rows is None
    assert work_of(a_few).install.states == full(a_few)
    assert not caplog.text


def test_a_fault_of_the_rules_never_reaches_a_sheet(a_few, caplog):
    """What is kept says a value less, with a hash that fits: only all the events tell."""
    kept = KeptEvents.objects.get()
    body = '{"fields":[],"beside":[],"early":[]}'
    kept.body = body
    kept.sha256 = stored.digest(kept)
    kept.save()
    assert work_of(a_few).install.states == {}
    draft = sheet_draft(a_few)
    assert draft.work.install.states == full(a_few)
    stored.kept_check(draft.work.seen, event_of)  # as issuing a sheet does
    assert "not what its events say" in caplog.text
    assert work_of(a_few).install.states == full(a_few)


def test_a_long_job_is_not_read_again(a_few, record):
    record(a_few, "rest_volts", "rest_v", 12.9)
    with CaptureQueriesContext(
        connection,
    ) as asked:
        work_of(a_few)
    rows = [each["sql"] for each in asked if "replaces" in each["sql"]]
    assert all('"serial" >' in sql or '"id" IN' in sql for sql in rows), rows
