"""Adds events to what stands already, without reading again all that led to it; pure.

The same answer as ``reduce_events`` gives of all events at once, which a test asks of random histories. The
usual event, a value that replaces what stands, is added by itself. Whatever is less plain (an undo, a value
that replaces one that stands no more, a ring) has its own field worked out again from the field's history.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import chain
from typing import Protocol
from uuid import UUID

from checklists.rules.reducer import (
    EMPTY,
    NOTE,
    RECORD,
    SAFETY,
    UNDO,
    Event,
    FieldState,
    Reduced,
    StepState,
    reduced_field,
    undone_by,
    value_mark,
)

Place = tuple[int, str]


class History(Protocol):
    """Where events are looked up that are not at hand, those to be added included."""

    def event(self, name: UUID) -> Event | None:
        """Return one event of a step of this job."""

    def field(self, place: Place) -> Iterable[Event]:
        """Return every record of a field, and every undo that names one of them."""


@dataclass(frozen=True, slots=True)
class FieldKept:
    """One field: what stands, and what was taken back, each with its undo."""

    reduced: Reduced
    taken: tuple[tuple[Event, Event], ...] = ()


@dataclass(frozen=True)
class Kept:
    """What stands after some events; ``early`` are names an undo took back before they came."""

    fields: Mapping[Place, FieldKept] = field(default_factory=dict)
    states: Mapping[int, StepState] = field(default_factory=dict)
    early: frozenset[UUID] = frozenset()

    def added(self, events: Iterable[Event], history: History) -> Kept:
        """Return what stands with more events, none of which was added before."""
        return _Adding(self, history).all(sorted(events, key=lambda event: event.id.int))


def kept_of(events: Iterable[Event]) -> Kept:
    """Return what stands of events, worked out from nothing."""
    once = {event.id: event for event in events}
    return Kept().added(once.values(), Told(once))


class Told:
    """A history at hand."""

    def __init__(self, events: Mapping[UUID, Event]) -> None:
        self._events = events
        self._by_place: dict[Place, list[Event]] = defaultdict(list)
        for event in events.values():
            target = events.get(event.undoes) if event.verb == UNDO and event.undoes else event
            if target is not None and target.verb == RECORD:
                self._by_place[target.step, target.field].append(event)

    def event(self, name: UUID) -> Event | None:
        """Return one event."""
        return self._events.get(name)

    def field(self, place: Place) -> Iterable[Event]:
        """Return the records of a field and their undos."""
        return self._by_place[place]


class _Adding:
    """The work of adding some events to what stands."""

    def __init__(self, kept: Kept, history: History) -> None:
        self.kept, self.history = kept, history
        self.fields = dict(kept.fields)
        self.early = set(kept.early)
        self.again: set[Place] = set()  # fields to be worked out from their history
        self.touched: set[Place] = set()
        self.gone: dict[UUID, int] = {}  # notes and safety lines taken back, with their step
        self.beside: dict[int, list[Event]] = defaultdict(list)  # new notes and safety lines, by step

    def all(self, events: list[Event]) -> Kept:
        """Add the events; undos first, so that what they name is not added to be taken away."""
        for event in events:
            if event.verb == UNDO and event.undoes:
                self._undo(event.undoes)
        for event in events:
            if event.verb == RECORD:
                self._record(event)
            elif event.verb in (NOTE, SAFETY) and event.id not in self.early:
                self.beside[event.step].append(event)
        for place in self.again:
            self.fields[place] = _from_history(self.history.field(place))
        return Kept(self.fields, self._states(), frozenset(self.early - {event.id for event in events}))

    def _undo(self, name: UUID) -> None:
        target = self.history.event(name)
        if target is None:
            self.early.add(name)
        elif target.verb == RECORD:
            self.again.add((target.step, target.field))
        elif target.verb in (NOTE, SAFETY):
            self.gone[name] = target.step

    def _record(self, event: Event) -> None:
        place = (event.step, event.field)
        self.touched.add(place)
        if place in self.again:
            return
        before = self.fields.get(place, FieldKept(Reduced(FieldState())))
        after = None if event.id in self.early else _with(before.reduced, event)
        if after is None:
            self.again.add(place)
        else:
            self.fields[place] = FieldKept(after, before.taken)

    def _states(self) -> dict[int, StepState]:
        """Return the steps' states; those of steps that were not touched are the same as before."""
        steps = {step for step, _ in self.touched | self.again} | {*self.gone.values()} | self.beside.keys()
        own = {place: kept for place, kept in self.fields.items() if place[0] in steps}
        beside = list(chain(*self.beside.values()))
        for step in steps:
            before = self.kept.states.get(step, EMPTY)
            beside += (*before.notes, *before.acks)
        beside = [event for event in beside if event.id not in self.gone]
        others = {step: state for step, state in self.kept.states.items() if step not in steps}
        return dict(sorted((others | states_of(own, beside)).items()))


def states_of(fields: Mapping[Place, FieldKept], beside: Iterable[Event]) -> dict[int, StepState]:
    """Return the state of each step from that of its fields, its notes and safety lines."""
    by_step: dict[int, dict[str, FieldState]] = defaultdict(dict)
    taken: dict[int, list[tuple[Event, Event]]] = defaultdict(list)
    for (step, name), own in fields.items():
        by_step[step][name] = own.reduced.state
        taken[step] += own.taken
    others: dict[int, list[Event]] = defaultdict(list)
    for event in beside:
        others[event.step].append(event)
    return {
        step: StepState(
            fields=by_step.get(step, {}),
            notes=_ordered(event for event in others[step] if event.verb == NOTE),
            acks=_ordered(event for event in others[step] if event.verb == SAFETY),
            taken_back=tuple(sorted(taken[step], key=lambda pair: pair[0].id.int)),
        )
        for step in sorted(by_step.keys() | others.keys())
    }


def _with(before: Reduced, event: Event) -> Reduced | None:
    """Return a field with one more value; None where only its whole history tells what stands."""
    ids = {each.id for each in before.state.standing}
    if before.is_ring or event.id in before.absent or not event.replaces <= ids | before.absent:
        return None
    standing = _ordered((*(e for e in before.state.standing if e.id not in event.replaces), event))
    current = {value_mark(each.value) for each in standing if each.photo is None}
    replaced = (each for each in before.state.standing if each.id in event.replaces and each.photo is None)
    old = (before.old | {value_mark(each.value) for each in replaced}) - current
    return Reduced(FieldState(standing, len(old)), old, before.absent)


def _from_history(events: Iterable[Event]) -> FieldKept:
    once = {event.id: event for event in events}
    undone = undone_by(once)
    records = sorted((e for e in once.values() if e.verb == RECORD), key=lambda event: event.id.int)
    taken = tuple((event, undone[event.id]) for event in records if event.id in undone)
    return FieldKept(reduced_field(records, undone), taken)


def _ordered(events: Iterable[Event]) -> tuple[Event, ...]:
    return tuple(sorted(events, key=lambda event: event.id.int))
