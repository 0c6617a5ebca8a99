"""Reads what stands of a job's events; of a long job from what is kept, and the events that came since.

What is kept is written under the lock of the checklist by whoever records. It is believed only where its
hash, the number of its events and the newest of them are as they were, and all it names are there; a job
sheet never rests on it. Otherwise all events are read, and the next record keeps what they give.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final
from uuid import UUID

from django.db.models import F, QuerySet

from checklists.models import Checklist, KeptEvents, StepEvent
from checklists.rules.kept import FieldKept, Kept, Told, kept_of, states_of
from checklists.rules.reducer import NOTE, RECORD, SAFETY, UNDO, Event, FieldState, Reduced
from checklists.rules.work_order import Placed

logger = logging.getLogger("coachlight.kept")

#: With fewer events all of them are read: that costs less than to keep. [events]
LEAST: Final = 300
#: Where more of them stand, reading all is as quick. [-]
LEAST_SHARE: Final = 2
#: Grows when the rules do: what was kept by other rules is not believed.
FORM: Final = 1
#: Names asked for at once; engines take a limited number. [-]
_AT_ONCE: Final = 500

Rows = tuple[StepEvent, ...]
AsEvent = Callable[[StepEvent], Event]


@dataclass
class Seen:
    """What stands of a checklist up to a serial; the rows where all were read."""

    checklist_pk: int
    kept: Kept
    serial: int
    rows: Rows | None
    placed: tuple[Placed, ...] | None = None  # the same in the work's places, and the order of it: kept by
    order: Mapping[UUID, int] | None = None  # whoever asked first

    @cached_property
    def events(self) -> Rows:
        """Return every event of a step, in the order they were received."""
        return tuple(events_of(self.checklist_pk)) if self.rows is None else self.rows


def events_of(checklist_pk: int) -> QuerySet[StepEvent]:
    """Return the events of the steps of a checklist, each with the hash of its picture as it was sent."""
    rows = StepEvent.objects.filter(checklist_id=checklist_pk, step__isnull=False)
    return rows.annotate(original_sha256=F("photo__original_sha256"))


def seen_of(
    checklist: Checklist, as_event: AsEvent, before: Seen | None = None, *, whole: bool = False
) -> Seen:
    """Return what stands of a checklist; ``whole`` reads all its events.

    After ``before`` only the events that came later are read.
    """
    if whole:
        return _all(checklist, as_event)
    if before is None:
        kept = KeptEvents.objects.filter(checklist=checklist).first()
        before = _believed(kept, as_event) if kept else None
    if before is None:
        return _all(checklist, as_event)
    later = tuple(events_of(checklist.pk).filter(serial__gt=before.serial))
    return _later(before, later, as_event) if later else before


def _all(checklist: Checklist, as_event: AsEvent) -> Seen:
    rows = tuple(events_of(checklist.pk))
    return Seen(
        checklist.pk,
        kept_of(as_event(row) for row in rows),
        max((row.serial for row in rows), default=0),
        rows,
    )


def _later(before: Seen, later: Rows, as_event: AsEvent) -> Seen:
    """Return what stands with some more events."""
    rows = None
    if before.rows is not None:
        rows = tuple(sorted((*before.rows, *later), key=lambda row: (row.received_at, row.pk)))
    fresh = [as_event(row) for row in later]
    kept = before.kept.added(fresh, _Stored(before.checklist_pk, rows, as_event))
    return Seen(before.checklist_pk, kept, max(row.serial for row in later), rows)


class _Stored:
    """The history of a checklist, read as far as it is asked for."""

    def __init__(self, checklist_pk: int, rows: Rows | None, as_event: AsEvent) -> None:
        self._own = StepEvent.objects.filter(checklist_id=checklist_pk, step__isnull=False)
        self._rows, self._as_event = rows, as_event

    @cached_property
    def _told(self) -> Told:
        return Told({row.pk: self._as_event(row) for row in self._rows or ()})

    def event(self, name: UUID) -> Event | None:
        """Return one event."""
        if self._rows is not None:
            return self._told.event(name)
        row = self._own.filter(pk=name).first()
        return self._as_event(row) if row else None

    def field(self, place: tuple[int, str]) -> Iterable[Event]:
        """Return the records of a field and their undos."""
        if self._rows is not None:
            return self._told.field(place)
        records = {row.pk: row for row in self._own.filter(verb=RECORD, step_id=place[0], field=place[1])}
        undos = [row for row in self._own.filter(verb=UNDO) if row.undoes in records]
        return [self._as_event(row) for row in (*records.values(), *undos)]


def kept_write(seen: Seen) -> None:
    """Keep what stands of a long job of whose events few stand; under the lock of its checklist."""
    own = StepEvent.objects.filter(checklist_id=seen.checklist_pk, serial__lte=seen.serial)
    body = _body(seen.kept)
    if seen.serial < max(LEAST, LEAST_SHARE * len(_named(body))):
        return
    row = KeptEvents(
        serial=seen.serial,
        newest=own.get(serial=seen.serial).pk,
        count=own.count(),
        body=json.dumps(body, separators=(",", ":")),
    )
    facts = {name: getattr(row, name) for name in ("serial", "newest", "count", "body")}
    KeptEvents.objects.update_or_create(
        checklist_id=seen.checklist_pk, defaults={**facts, "sha256": digest(row)}
    )


def digest(row: KeptEvents) -> str:
    """Return the hash of all that a row says."""
    return hashlib.sha256(f"{FORM} {row.serial} {row.newest} {row.count} {row.body}".encode()).hexdigest()


def _named(body: Mapping[str, Any]) -> set[str]:
    """Return the names of the events that are kept."""
    stand = {name for _, _, names, *_ in body["fields"] for name in names}
    taken = {name for _, _, _, pairs, *_ in body["fields"] for pair in pairs for name in pair}
    return stand | taken | {*body["beside"]}


def kept_check(seen: Seen, as_event: AsEvent) -> None:
    """Let go of what is kept where the events, all of them ``seen``, say otherwise."""
    row = KeptEvents.objects.filter(checklist_id=seen.checklist_pk).first()
    if row is None:
        return
    believed = _believed(row, as_event)
    if believed is not None:
        later = tuple(each for each in seen.events if each.serial > believed.serial)
        now = _later(believed, later, as_event) if later else believed
        if now.kept.states == seen.kept.states:
            return
    logger.error("What is kept of checklist %s is not what its events say: it is kept anew", row.checklist_id)
    row.delete()


def _believed(row: KeptEvents, as_event: AsEvent) -> Seen | None:
    """Return what is kept; None where it cannot be right."""
    if row.sha256 != digest(row):
        logger.error("What is kept of checklist %s is damaged, or of other rules", row.checklist_id)
        return None
    own = StepEvent.objects.filter(checklist_id=row.checklist_id)
    is_same = own.filter(serial=row.serial, pk=row.newest).exists()
    if not is_same or own.filter(serial__lte=row.serial).count() != row.count:
        logger.error("The events of checklist %s are not those that were kept", row.checklist_id)
        return None
    try:
        return Seen(row.checklist_id, _unpacked(json.loads(row.body), own, as_event), row.serial, None)
    except KeyError:
        logger.error("Of checklist %s an event is kept that is not there", row.checklist_id)
        return None


def _body(kept: Kept) -> dict[str, Any]:
    """Return what is kept as JSON stores it: names only."""
    return {
        "fields": [
            [
                *place,
                [event.id.hex for event in own.reduced.state.standing],
                [[event.id.hex, undo.id.hex] for event, undo in own.taken],
                sorted(own.reduced.old),
                sorted(name.hex for name in own.reduced.absent),
                own.reduced.is_ring,
            ]
            for place, own in kept.fields.items()
        ],
        "beside": [event.id.hex for state in kept.states.values() for event in (*state.notes, *state.acks)],
        "early": sorted(name.hex for name in kept.early),
    }


def _unpacked(body: Mapping[str, Any], own: QuerySet[StepEvent], as_event: AsEvent) -> Kept:
    """Return what the names stand for; raise KeyError where one is not there."""
    names = [UUID(name) for name in _named(body)]
    events: dict[str, Event] = {}
    for start in range(0, len(names), _AT_ONCE):
        for row in own.filter(pk__in=names[start : start + _AT_ONCE]).order_by():
            events[row.pk.hex] = as_event(row)
    fields = {
        (step, name): FieldKept(
            Reduced(
                FieldState(tuple(events[each] for each in stand), len(old)),
                frozenset(old),
                frozenset(map(UUID, absent)),
                is_ring,
            ),
            tuple((events[one], events[undo]) for one, undo in taken),
        )
        for step, name, stand, taken, old, absent, is_ring in body["fields"]
    }
    beside = [events[name] for name in body["beside"] if events[name].verb in (NOTE, SAFETY)]
    return Kept(fields, states_of(fields, beside), frozenset(map(UUID, body["early"])))
