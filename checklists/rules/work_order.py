"""Puts what was recorded into the order of the work; tells what was done while its step was locked. Pure.

Each tablet's records stand in its own sequence: a picture counts from the moment it was taken, however long
its upload took. Work of several tablets is merged by the time it was done, their clocks put right. A record
counts as done while locked only where its step was locked by everything done until then *and* by everything
its tablet can have known, which is its own work and what of the others' had been received. So the order of
arrival makes nobody's work late.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from checklists.rules.holds import Holds
from checklists.rules.install import DeviationInfo, Install, OverrideInfo, StepInfo, WaitingChange
from checklists.rules.reducer import EMPTY, RECORD, UNDO, Event, StepState, reduce_events

#: Judges the readings of an install as it stood at a moment.
Judge = Callable[[Install], Install]


@dataclass(frozen=True, slots=True)
class Placed:
    """One event with what its place in the work is known by."""

    event: Event
    source: str  # the tablet; empty for the pages of the office, which have our own clock
    claimed_at: datetime
    done_at: datetime
    received_at: datetime
    serial: int
    sequence: int | None = None  # the tablet's own count; tablets did not always send it

    @property
    def by_clock(self) -> datetime:
        """Return when it was done; nothing is done after it was received, whatever a clock says."""
        return min(self.done_at, self.received_at)


@dataclass(frozen=True, slots=True)
class Visit:
    """What one tablet recorded in one go: at one step, or at one moment."""

    moment: datetime
    source: str
    placed: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Span[T]:
    """Something the office did that held for a while."""

    what: T
    since: datetime
    until: datetime | None = None

    def holds_at(self, moment: datetime) -> bool:
        """Return whether it held at a moment."""
        return self.since <= moment and (self.until is None or moment < self.until)


@dataclass(frozen=True, slots=True)
class Plan:
    """What was asked by one design revision: facts, and which steps had been asked already."""

    number: int
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Office:
    """What came from the office in the course of the work, each with its time."""

    overrides: tuple[Span[OverrideInfo], ...] = ()
    deviations: tuple[Span[DeviationInfo], ...] = ()
    changes: tuple[Span[WaitingChange], ...] = ()
    earlier_plans: tuple[Plan, ...] = field(default=())  # oldest first

    def install_at(
        self, now: Install, states: Mapping[int, StepState], moment: datetime, plan: int
    ) -> Install:
        """Return the install as it stood at a moment of the work, on the revision it was done by."""
        facts = next((each.facts for each in self.earlier_plans if each.number >= plan), now.facts)
        return replace(
            now,
            steps=tuple(step for step in now.steps if step.since_design <= plan),
            states=states,
            facts=facts,
            overrides=tuple(_at(self.overrides, moment)),
            deviations=tuple(_at(self.deviations, moment)),
            waiting_changes=tuple(_at(self.changes, moment)),
            judged={},
            circuit_cautions=(),  # which there were at a moment nobody knows: they make nothing late
            extra={},
        )


def _at[T](spans: Iterable[Span[T]], moment: datetime) -> Iterator[T]:
    return (span.what for span in spans if span.holds_at(moment))


def locks_of(holds: Holds, step: StepInfo) -> tuple[str, ...]:
    """Return why a step is locked; the one place that asks."""
    return holds.locks(step)


def in_order(events: Iterable[Placed]) -> tuple[Visit, ...]:
    """Return what was recorded as visits in the order of the work; that of ``events`` does not matter."""
    by_source: dict[str, list[Placed]] = defaultdict(list)
    for placed in events:
        by_source[placed.source].append(placed)
    lined = [each for own in by_source.values() for each in _own_order(own)]
    visits: list[list[tuple[datetime, Placed]]] = []
    for moment, _, _, placed in sorted(lined, key=lambda each: each[:3]):
        if visits and _is_one_visit(visits[-1][-1][1], placed):
            visits[-1].append((moment, placed))
        else:
            visits.append([(moment, placed)])
    return tuple(Visit(own[0][0], own[0][1].source, tuple(placed for _, placed in own)) for own in visits)


def places(events: Iterable[Placed]) -> dict[UUID, int]:
    """Return the place of each event in the order of the work."""
    found = (placed for visit in in_order(events) for placed in visit.placed)
    return {placed.event.id: place for place, placed in enumerate(found)}


def _own_order(own: list[Placed]) -> Iterator[tuple[datetime, str, int, Placed]]:
    """Yield one tablet's records in its own sequence, each no earlier than the one before it."""
    own.sort(key=lambda each: (each.sequence is not None, each.sequence or 0, each.by_clock, each.serial))
    latest: datetime | None = None
    for place, each in enumerate(own):
        latest = each.by_clock if latest is None else max(latest, each.by_clock)
        yield latest, each.source, place, each


def _is_one_visit(before: Placed, after: Placed) -> bool:
    is_together = before.event.step == after.event.step or before.claimed_at == after.claimed_at
    return before.source == after.source and is_together


def done_while_locked(
    install: Install, events: Sequence[Placed], office: Office, judge: Judge, only: Collection[int] = ()
) -> dict[UUID, tuple[str, ...]]:
    """Return what was recorded while its step was locked, and by what; ``only`` asks of some steps."""
    visits = in_order(events)
    asked = _Asked(replace(install, order=places(events)), office, judge)
    found: dict[UUID, tuple[str, ...]] = {}
    so_far = _SoFar()
    steps = {step.pk: step for step in install.steps}
    for place, visit in enumerate(visits):
        wanted = [step for step in _steps_of(visit, steps) if not only or step.pk in only]
        before = so_far.states if wanted else {}
        so_far.take(visit.placed)
        for step in wanted:
            why = asked.locks(visit, step, before) and asked.locks(visit, step, so_far.states)
            if why and _was_known(visits[: place + 1], events, asked, step):
                found |= {each.event.id: why for each in _records(visit, step.pk)}
    return found


def _steps_of(visit: Visit, steps: Mapping[int, StepInfo]) -> list[StepInfo]:
    """Return the steps at which something was recorded; what is not asked any more locks nothing."""
    names = dict.fromkeys(each.event.step for each in visit.placed if each.event.verb == RECORD)
    return [steps[name] for name in names if name in steps and steps[name].is_in_scope]


def _records(visit: Visit, step: int) -> Iterator[Placed]:
    return (each for each in visit.placed if each.event.step == step and each.event.verb == RECORD)


def _was_known(visits: Sequence[Visit], events: Sequence[Placed], asked: _Asked, step: StepInfo) -> bool:
    """Return whether the step was locked by what its tablet can have known as well."""
    visit = visits[-1]
    own = [each for one in visits if one.source == visit.source for each in one.placed]
    others = [each for each in events if each.source != visit.source and each.received_at <= visit.moment]
    done = {each.event.id for one in visits for each in one.placed}
    if done == {each.event.id for each in (*own, *others)}:
        return True
    known = _SoFar()
    known.take((*own, *others))
    return bool(asked.locks(visit, step, known.states))


class _SoFar:
    """What stands at each step after a part of the work; given out anew after each visit."""

    def __init__(self) -> None:
        self.states: dict[int, StepState] = {}
        self._events: dict[int, list[Event]] = defaultdict(list)
        self._step_of: dict[UUID, int] = {}
        self._undos: list[Event] = []

    def take(self, placed: Iterable[Placed]) -> None:
        """Add what was recorded next."""
        touched = set()
        for each in placed:
            event = each.event
            self._step_of[event.id] = event.step
            if event.verb == UNDO:
                self._undos.append(event)
            else:
                self._events[event.step].append(event)
            touched |= {event.step, self._step_of.get(event.undoes or event.id, event.step)}
        fresh = {step: self._reduced(step) for step in touched}
        self.states = self.states | fresh

    def _reduced(self, step: int) -> StepState:
        return reduce_events((*self._events[step], *self._undos)).get(step, EMPTY)


class _Asked:
    """Works out locks at moments of the work, each moment once."""

    def __init__(self, now: Install, office: Office, judge: Judge) -> None:
        self._now, self._office, self._judge = now, office, judge
        self._known: dict[tuple[Any, ...], Holds] = {}  # the last few: a visit has a before and an after

    def locks(self, visit: Visit, step: StepInfo, states: Mapping[int, StepState]) -> tuple[str, ...]:
        """Return why a step was locked where these states stood."""
        plan = max(each.event.design_number for each in _records(visit, step.pk))
        if step.since_design > plan:  # asked anew since: by the plan it was done by nothing is known of it
            return ()
        return locks_of(self._holds(states, visit.moment, plan), step)

    def _holds(self, states: Mapping[int, StepState], moment: datetime, plan: int) -> Holds:
        key = (id(states), moment, plan)
        if key not in self._known:
            install = self._judge(self._office.install_at(self._now, states, moment, plan))
            for other in self._known.values():
                install.take_marks(other.install)
            self._known = dict([*self._known.items()][-2:]) | {key: Holds(install)}
        return self._known[key]
