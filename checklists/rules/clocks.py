"""Turns started, stopped and corrected clocks into hours by person and phase. Pure.

A clock belongs to a person and a phase. A person runs one clock at a time: the next start ends the one
before, on whatever job. A correction by hand names the clock and stands beside what it ran; both are kept.
Times are the tablet's own, put right by its measured offset. The answer depends on the set of events alone.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final
from uuid import UUID

START: Final = "start"
STOP: Final = "stop"
CORRECT: Final = "correct"
CLOCK_VERBS: Final = frozenset({START, STOP, CORRECT})
UNDO: Final = "undo"
#: A clock that ran longer was probably not stopped: it is asked about. A choice of ours, no source. [h]
LONGEST_H: Final = 10.0


@dataclass(frozen=True, slots=True)
class ClockEvent:
    """One event of a clock; ``phase`` is a letter, ``at`` the time put right, ``reason`` a correction's."""

    id: UUID
    verb: str
    at: dt.datetime
    phase: str = ""
    value: Mapping[str, Any] | None = None
    undoes: UUID | None = None
    reason: str = ""
    by_name: str = ""
    job: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """Time of one person in one phase; ``ran`` is what the clock itself said where a hand corrected it."""

    id: UUID
    job: int
    who: int
    name: str
    phase: str
    start: dt.datetime
    end: dt.datetime | None
    ended_by: str = ""  # stop, next, hand; empty while it runs
    reason: str = ""
    corrected_by: str = ""
    ran: tuple[dt.datetime | None, dt.datetime | None] | None = None

    @property
    def is_running(self) -> bool:
        """Return whether nobody has stopped it."""
        return self.end is None

    def hours(self, now: dt.datetime) -> float:
        """Return how long it is; a running one until now."""
        return max(((self.end or now) - self.start).total_seconds() / 3600, 0.0)

    def is_asked(self, now: dt.datetime) -> bool:
        """Return whether a person is asked when it really ended: too long, and no hand has looked at it."""
        return self.ended_by != "hand" and self.hours(now) > LONGEST_H


def spans_of(events: Iterable[ClockEvent]) -> tuple[Span, ...]:
    """Return every span in order of its start; repeats and order of ``events`` do not matter."""
    once = {event.id: event for event in events}
    gone = {event.undoes for event in once.values() if event.verb == UNDO}
    live = sorted((e for e in once.values() if e.id not in gone), key=lambda e: (e.at, e.id.int))
    fixes = _corrections(live)
    raw = [_started(event, fixes.pop(event.id, None)) for event in live if event.verb == START]
    stops = _stops(live)
    known = {span.id for span in raw}
    by_hand = [_written(event) for name, event in fixes.items() if name not in known and _is_whole(event)]
    ended = [_ended(span, stops.get(span.id), raw) for span in raw]
    return tuple(sorted((*ended, *by_hand), key=lambda span: (span.start, span.id.int)))


def overlaps(spans: Iterable[Span], now: dt.datetime) -> tuple[tuple[Span, Span], ...]:
    """Return each two spans of one person that share time: a hand wrote what no clock can run."""
    ordered = sorted(spans, key=lambda span: (span.start, span.id.int))
    return tuple(
        (one, other)
        for one, other in itertools.combinations(ordered, 2)
        if one.who == other.who
        and "hand" in {one.ended_by, other.ended_by}
        and other.start < (one.end or now)
        and one.start < (other.end or now)
    )


def _corrections(live: Iterable[ClockEvent]) -> dict[UUID, ClockEvent]:
    """Return the newest correction of each clock, by the clock's id; one that names none has its own."""
    found = {}
    for event in live:
        if event.verb == CORRECT:
            named = (event.value or {}).get("start")
            found[UUID(named) if named else event.id] = event
    return found


def _stops(live: Iterable[ClockEvent]) -> dict[UUID, dt.datetime]:
    """Return the first stop of each clock: a second one comes from a tablet that had not seen it."""
    found: dict[UUID, dt.datetime] = {}
    for event in live:
        if event.verb == STOP:
            found.setdefault(UUID((event.value or {})["start"]), event.at)
    return found


def _started(event: ClockEvent, fix: ClockEvent | None) -> Span:
    value = event.value or {}
    span = Span(event.id, event.job, value["who"], value["name"], event.phase, event.at, None)
    if fix is None:
        return span
    start, end = _moments(fix)
    return replace(
        span, start=start, end=end, ended_by="hand", phase=fix.phase or event.phase, reason=fix.reason,
        corrected_by=fix.by_name, ran=(event.at, None),
    )  # fmt: skip


def _written(event: ClockEvent) -> Span:
    """Return hours that no clock ran for."""
    value, (start, end) = event.value or {}, _moments(event)
    return Span(
        event.id, event.job, value["who"], value["name"], event.phase, start, end, "hand", event.reason,
        event.by_name, (None, None),
    )  # fmt: skip


def _is_whole(event: ClockEvent) -> bool:
    """Return whether a correction says whose hours they are; else its clock has not arrived yet."""
    return "who" in (event.value or {})


def _ended(span: Span, stop: dt.datetime | None, all_spans: Iterable[Span]) -> Span:
    """Return the span with its end: its stop or the same person's next start, whichever came first."""
    began = (span.ran and span.ran[0]) or span.start
    after = min((one.start for one in _later(span, began, all_spans)), default=None)
    stop = None if stop is None else max(stop, began)
    end = min((each for each in (stop, after) if each is not None), default=None)
    if span.ran is not None:
        return replace(span, ran=(began, end))
    return replace(span, end=end, ended_by="" if end is None else "stop" if end == stop else "next")


def _later(span: Span, began: dt.datetime, all_spans: Iterable[Span]) -> Iterator[Span]:
    for one in all_spans:
        if one.id != span.id and one.who == span.who and (one.start, one.id.int) > (began, span.id.int):
            yield one


def _moments(event: ClockEvent) -> tuple[dt.datetime, dt.datetime]:
    value = event.value or {}
    return dt.datetime.fromisoformat(value["from"]), dt.datetime.fromisoformat(value["to"])
