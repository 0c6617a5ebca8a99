"""Finds wiring that was recorded again after the Go: a Go is only given for what was there before it. Pure.

What counts is the order of the work (``rules/work_order.py: places``): each tablet's own sequence, several
tablets by their clocks put right. A picture, a note or a signature added later changes no wire. A value that
was recorded after the Go and taken back again leaves what the Go was given for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final
from uuid import UUID
from zoneinfo import ZoneInfo

from checklists.plan.roles import PhaseRole, Role
from checklists.rules.fields import PHOTO, SIGNATURE, TICK
from checklists.rules.reducer import EMPTY, Event, FieldState, StepState
from checklists.rules.step_info import StepInfo

#: The phases in which something electric is built, of every version.
_WIRING: Final = frozenset(
    {
        PhaseRole.ROOF_WIRING,
        PhaseRole.HOME_RUN,
        PhaseRole.INSIDE_RUNS,
        PhaseRole.BATTERY,
        PhaseRole.BATTERY_DC,
        PhaseRole.INVERTER,
        PhaseRole.AC_WIRING,
        PhaseRole.SOURCES,
    }
)
#: Steps of other phases that bear on what is energized: bonds, panels by their serial.
_MORE: Final = frozenset({"bond_fitted", Role.BOND_CONTINUITY, Role.PANEL_SERIAL})
#: Who signs for the AC work is no wire; another name has its own rule.
_PAPERS: Final = frozenset({Role.LICENSED_PERSON})
#: Values as built that a circuit is worked out from.
_FEEDS: Final = ("circuit:", "string:", "strings.", "bank.")


@dataclass(frozen=True, slots=True)
class Change:
    """The newest thing recorded, or taken back, at one step after the Go."""

    step: StepInfo
    event: Event
    given: Event  # the Go it came after

    def sentence(self, zone: str) -> str:
        """Return what was done when, by whom, and what it asks for; times in this zone."""
        verb = "taken back" if self.event.verb == "undo" else "recorded again"
        by = f" by {self.event.by_name}" if self.event.by_name else ""
        when = _when(self.event, self.given, ZoneInfo(zone))
        return f"{self.step.title} was {verb} after Go{when}{by}: check and give Go again"


def _when(event: Event, given: Event, zone: ZoneInfo) -> str:
    """Return the time of day, with the day where it is another than that of the Go."""
    at, before = (_at(each) for each in (event, given))
    if at is None:
        return ""
    local = at.astimezone(zone)
    is_one_day = before is not None and before.astimezone(zone).date() == local.date()
    day = "" if is_one_day else f" on {local:%b} {local.day}"
    return f"{day} at {local:%H:%M}"


def _at(event: Event) -> datetime | None:
    at = event.done_at or event.received_at
    return at if at is None or at.tzinfo else at.replace(tzinfo=UTC)


def rests_on(steps: Sequence[StepInfo]) -> tuple[StepInfo, ...]:
    """Return the steps in scope, before the Go, whose values it is given for."""
    asked = [step for step in steps if step.is_in_scope]
    go = next((place for place, step in enumerate(asked) if step.role == Role.GO), 0)
    return tuple(step for step in asked[:go] if _bears(step))


def _bears(step: StepInfo) -> bool:
    is_electric = step.phase_role in _WIRING or step.role in _MORE
    is_fed = any(spec.feeds.startswith(_FEEDS) for spec in step.specs)
    return (is_electric or is_fed) and step.role not in _PAPERS


def changes_after(
    steps: Sequence[StepInfo], states: Mapping[int, StepState], order: Mapping[UUID, int]
) -> tuple[Change, ...]:
    """Return what was changed since the Go was given last; none where it was not given."""
    go = _go(steps)
    ticks = [] if go is None else [each for each in _ticks(go, states) if each.id in order]
    if not ticks:
        return ()
    given = max(ticks, key=lambda each: order[each.id])
    found = []
    for step in rests_on(steps):
        after = list(_after(step, states, order, order[given.id]))
        if after:
            found.append(Change(step, max(after, key=lambda each: order[each.id]), given))
    return tuple(found)


def stale_at_go(
    steps: Sequence[StepInfo], states: Mapping[int, StepState], order: Mapping[UUID, int]
) -> frozenset[UUID]:
    """Return what was ticked at the Go and no longer counts.

    A Go counts until its wiring is changed, a circuit accepted with a caution until a value is that its sums
    are worked out from: who accepted 3 % has not accepted 4 %.
    """
    go = _go(steps)
    if go is None or go.pk not in states:
        return frozenset()
    wired, fed = list(_places(steps, states, order)), list(_places(steps, states, order, is_fed=True))
    return frozenset(
        event.id
        for name, own in states[go.pk].fields.items()
        for event in own.standing
        if event.id in order and _is_after(wired if name in _names(go) else fed, order[event.id])
    )


def _go(steps: Sequence[StepInfo]) -> StepInfo | None:
    return next((step for step in steps if step.is_in_scope and step.role == Role.GO), None)


def _places(
    steps: Sequence[StepInfo],
    states: Mapping[int, StepState],
    order: Mapping[UUID, int],
    *,
    is_fed: bool = False,
) -> Iterator[tuple[int, int]]:
    """Yield the places of what was changed at the steps a Go rests on: of the value, and of the change."""
    for step in rests_on(steps):
        names = {spec.name for spec in step.specs if spec.feeds or not is_fed}
        for was, event in _changes(step, states):
            if was.field in names:
                yield order.get(was.id, -1), order.get(event.id, -1)


def _is_after(changes: Sequence[tuple[int, int]], place: int) -> bool:
    """Return whether something is other than it was there; what came and went since is not."""
    return any(at > place and (was == at or was <= place) for was, at in changes)


def _ticks(go: StepInfo, states: Mapping[int, StepState]) -> Iterator[Event]:
    own = states.get(go.pk)
    for name in _names(go) if own else ():
        yield from own[name].standing  # type: ignore[index]


def _names(go: StepInfo) -> frozenset[str]:
    """Return the fields by which a Go is given; the circuits accepted by name stand for themselves."""
    return frozenset(spec.name for spec in go.specs if spec.kind == TICK and not spec.repeat)


def _after(
    step: StepInfo, states: Mapping[int, StepState], order: Mapping[UUID, int], place: int
) -> Iterator[Event]:
    """Yield values that stand and were recorded later, and undos of values that were there."""
    for was, event in _changes(step, states):
        if _is_after([(order.get(was.id, -1), order.get(event.id, -1))], place):
            yield event


def _changes(step: StepInfo, states: Mapping[int, StepState]) -> Iterator[tuple[Event, Event]]:
    """Yield each value that stands, twice, and each that was taken back, with its undo."""
    quiet = {spec.name for spec in step.specs if spec.kind in {PHOTO, SIGNATURE}}
    own = states.get(step.pk, EMPTY)
    stands = ((event, event) for state in own.fields.values() for event in state.standing)
    for was, event in (*stands, *own.taken_back):
        if was.photo is None and was.field not in quiet:
            yield was, event


def without(own: StepState, stale: frozenset[UUID]) -> StepState:
    """Return what stands at the Go but for what no longer counts."""
    fields = {
        name: FieldState(tuple(event for event in state.standing if event.id not in stale), state.redo_count)
        for name, state in own.fields.items()
    }
    return replace(own, fields=fields)
