"""Reduces the events of an install to what is known now; the only place that decides it.

Pure and the same for any order of arrival: the answer depends on the set of events alone. A value stands
until another value that *names* it (``replaces``) or an undo takes its place. Two values that never saw
each other both stand: that is a conflict, which a person settles by recording a third. No clock decides.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final
from uuid import UUID

RECORD: Final = "record"
UNDO: Final = "undo"
NOTE: Final = "note"
SAFETY: Final = "safety"


@dataclass(frozen=True, slots=True)
class Event:
    """One thing recorded at a step, as it was sent."""

    id: UUID
    step: int
    verb: str
    field: str = ""
    value: Any = None
    photo: UUID | None = None
    undoes: UUID | None = None
    replaces: frozenset[UUID] = frozenset()
    cause: str = ""
    by_name: str = ""
    by_role: str = ""
    design_number: int = 0
    received_at: datetime | None = None
    done_at: datetime | None = None  # the device's clock put right: to be read, decides nothing


@dataclass(frozen=True, slots=True)
class FieldState:
    """What stands at one field: usually one value; more than one different value is a conflict."""

    standing: tuple[Event, ...] = ()
    redo_count: int = 0

    @property
    def values(self) -> tuple[Any, ...]:
        """Return the different values that stand, in a stable order."""
        told = [event.value for event in self.standing if event.photo is None]
        if len(told) < 2:  # nearly always: no need to compare
            return tuple(told)
        seen: dict[str, Any] = {}
        for value in told:
            seen.setdefault(canonical(value), value)
        return tuple(seen.values())

    @property
    def value(self) -> Any:
        """Return the one value that stands; None when there is none, or when two disagree."""
        values = self.values
        return values[0] if len(values) == 1 else None

    @property
    def in_order(self) -> tuple[Event, ...]:
        """Return what stands in the order it was done: to be shown, decides nothing."""
        return as_done(self.standing)

    @property
    def photos(self) -> tuple[UUID, ...]:
        """Return the pictures that stand, each once, in the order they were taken."""
        return tuple(dict.fromkeys(event.photo for event in self.in_order if event.photo is not None))

    @property
    def is_conflict(self) -> bool:
        """Return whether two people recorded different values without seeing each other's."""
        return len(self.values) > 1

    @property
    def is_recorded(self) -> bool:
        """Return whether anything stands here."""
        return bool(self.standing)

    def since(self, design_number: int) -> FieldState:
        """Return what stands here of what was recorded on this design revision or a later one."""
        kept = tuple(event for event in self.standing if event.design_number >= design_number)
        return FieldState(kept, self.redo_count)


NOTHING: Final = FieldState()


@dataclass(frozen=True, slots=True)
class StepState:
    """What stands at one step."""

    fields: Mapping[str, FieldState] = field(default_factory=dict)
    notes: tuple[Event, ...] = ()
    acks: tuple[Event, ...] = ()  # who has read the safety lines here, on which day
    taken_back: tuple[tuple[Event, Event], ...] = ()  # values undone, each with its undo

    def __getitem__(self, name: str) -> FieldState:
        return self.fields.get(name, NOTHING)

    @property
    def standing(self) -> tuple[Event, ...]:
        """Return every event that stands at this step."""
        return tuple(event for state in self.fields.values() for event in state.standing)

    @property
    def by_names(self) -> tuple[str, ...]:
        """Return who recorded what stands here."""
        return tuple(sorted({event.by_name for event in self.standing if event.by_name}))

    @property
    def last_at(self) -> datetime | None:
        """Return when the newest standing value reached us."""
        return max((e.received_at for e in self.standing if e.received_at), default=None)

    def since(self, design_number: int) -> StepState:
        """Return what stands here of what was recorded on this design revision or a later one."""
        return StepState(
            {name: own.since(design_number) for name, own in self.fields.items()},
            self.notes,
            self.acks,
            self.taken_back,
        )


EMPTY: Final = StepState()


def reduce_events(events: Iterable[Event]) -> dict[int, StepState]:
    """Return what stands at each step; the order of ``events`` and repeats of one id do not matter."""
    once = {event.id: event for event in events}
    undone = undone_by(once)
    by_field: dict[tuple[int, str], list[Event]] = defaultdict(list)
    notes: dict[int, list[Event]] = defaultdict(list)
    acks: dict[int, list[Event]] = defaultdict(list)
    taken: dict[int, list[tuple[Event, Event]]] = defaultdict(list)
    for event in sorted(once.values(), key=lambda event: event.id.int):
        if event.verb == RECORD:
            by_field[event.step, event.field].append(event)
            taken[event.step] += [(event, undone[event.id])] if event.id in undone else []
        elif event.verb == NOTE and event.id not in undone:
            notes[event.step].append(event)
        elif event.verb == SAFETY and event.id not in undone:
            acks[event.step].append(event)
    fields: dict[int, dict[str, FieldState]] = defaultdict(dict)
    for (step, name), records in by_field.items():
        fields[step][name] = reduced_field(records, undone).state
    return {
        step: StepState(
            fields=fields.get(step, {}),
            notes=tuple(notes.get(step, ())),
            acks=tuple(acks.get(step, ())),
            taken_back=tuple(taken.get(step, ())),
        )
        for step in sorted(fields.keys() | notes.keys() | acks.keys())
    }


def as_done(events: Iterable[Event]) -> tuple[Event, ...]:
    """Return events in the order they were done, as far as the tablets' clocks tell."""

    def when(event: Event) -> tuple[float, int]:
        at = event.done_at or event.received_at
        return (at.timestamp() if at else 0.0, event.id.int)

    return tuple(sorted(events, key=when))


def canonical(value: Any) -> str:
    """Return one text for one value, so that 7 and 7.0 are the same reading."""
    if isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, int | float) and abs(value) < 1e300:
        return repr(float(value))
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


@dataclass(frozen=True, slots=True)
class Reduced:
    """What stands of the records of one field, and what has to be known to add one more."""

    state: FieldState
    old: frozenset[str] = (
        frozenset()
    )  # values that were recorded and stand no more, as ``value_mark`` says them
    absent: frozenset[UUID] = frozenset()  # names replaced that are no record here (yet)
    is_ring: bool = False  # values that replace each other: none of them is hidden


def value_mark(value: Any) -> str:
    """Return a short text for one value: the same for equal values only."""
    text = canonical(value)
    return text if len(text) <= 32 else hashlib.sha256(text.encode()).hexdigest()[:32]


def reduced_field(records: Iterable[Event], undone: Mapping[UUID, Event]) -> Reduced:
    """Return what stands of the records of one field, ``undone`` those an undo took away."""
    by_id = {event.id: event for event in records}
    live = [event for event in by_id.values() if event.id not in undone]
    covered = _covered(live, by_id)
    standing = [event for event in live if event.id not in covered]
    is_ring = bool(live) and not standing
    if is_ring:  # values that replace each other in a ring: hide none of them
        standing = live
    absent = frozenset(name for event in by_id.values() for name in event.replaces if name not in by_id)
    if len(standing) == len(by_id):
        return Reduced(FieldState(standing=tuple(standing)), absent=absent, is_ring=is_ring)
    current = {value_mark(event.value) for event in standing if event.photo is None}
    old = frozenset(value_mark(event.value) for event in by_id.values() if event.photo is None) - current
    return Reduced(FieldState(tuple(standing), len(old)), old, absent, is_ring)


def _covered(live: Iterable[Event], by_id: Mapping[UUID, Event]) -> set[UUID]:
    """Return every value that another live one replaces, also through values that were undone since.

    Each value is told of two that cover it at most: one of them is not itself. So a long chain costs its
    length, not its square.
    """
    by: dict[UUID, tuple[UUID, ...]] = {}
    waiting = [(event.id, event.replaces) for event in live]
    while waiting:
        source, names = waiting.pop()
        for name in names:
            known = by.get(name, ())
            if len(known) > 1 or source in known:
                continue
            by[name] = (*known, source)
            if name in by_id:
                waiting.append((source, by_id[name].replaces))
    return {name for name, sources in by.items() if any(source != name for source in sources)}


def undone_by(events: Mapping[UUID, Event]) -> dict[UUID, Event]:
    """Return what an undo takes away, with it. An undo is not itself undone: record the value again."""
    found: dict[UUID, Event] = {}
    for event in sorted(events.values(), key=lambda event: event.id.int):
        target = events.get(event.undoes) if event.verb == UNDO and event.undoes else None
        if target is not None and target.verb != UNDO:
            found.setdefault(target.id, event)
    return found
