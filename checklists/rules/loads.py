"""What of the pull list is loaded, and what is missing. Pure.

Both are read by the reducer of the steps: a count stands until one that names it takes its place, and two
that never saw each other both stand until a person looks. A shortage of nothing is one that was settled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final
from uuid import UUID

from checklists.rules.reducer import RECORD, UNDO, Event, FieldState, reduce_events

LOAD: Final = "load"
SHORT: Final = "short"
LOAD_VERBS: Final = frozenset({LOAD, SHORT})


@dataclass(frozen=True, slots=True)
class Shortage:
    """What is missing of one line; ``ids`` are the events that say so."""

    key: str
    missing: float
    note: str
    by_name: str
    at: Any
    ids: tuple[UUID, ...]


@dataclass(frozen=True, slots=True)
class Loads:
    """What is loaded by line, and the shortages that stand."""

    loaded: dict[str, FieldState]
    short: dict[str, FieldState]

    @property
    def open_shortages(self) -> tuple[Shortage, ...]:
        """Return what is missing and not settled, by line."""
        return tuple(one for key, state in sorted(self.short.items()) for one in _open(key, state))


def loads_of(events: Iterable[Event]) -> Loads:
    """Return what stands of the pull list; order and repeats of ``events`` do not matter."""
    rows = list(events)
    return Loads(_fields(rows, LOAD), _fields(rows, SHORT))


def _fields(rows: Iterable[Event], verb: str) -> dict[str, FieldState]:
    wanted = (replace(each, verb=RECORD, step=0) for each in rows if each.verb == verb)
    undone = (replace(each, step=0) for each in rows if each.verb == UNDO)
    states = reduce_events([*wanted, *undone])
    return {name: own for name, own in states[0].fields.items() if own.standing} if states else {}


def _open(key: str, state: FieldState) -> Iterator[Shortage]:
    rows = [event for event in state.standing if event.value["missing"] > 0]
    if rows:
        worst = max(rows, key=lambda event: (event.value["missing"], event.id.int))
        ids = tuple(event.id for event in state.standing)
        yield Shortage(key, worst.value["missing"], worst.value["note"], worst.by_name, worst.done_at, ids)
