"""Checks what is recorded at the job and not at a step: clocks, loads, shortages. Pure."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from checklists.rules.clocks import CLOCK_VERBS, CORRECT, START, STOP
from checklists.rules.entries import NOTE_LENGTH, Entry, EntryRefused
from checklists.rules.loads import LOAD, LOAD_VERBS
from checklists.rules.reducer import UNDO

#: What is recorded without a step.
JOB_VERBS: Final = CLOCK_VERBS | LOAD_VERBS
#: Hours put in by hand at once are at most a day; a choice of ours. [h]
MOST_BY_HAND_H: Final = 24.0
#: A reason shorter than this says nothing; a choice of ours. [-]
REASON_LENGTH: Final = 3
MOST_LOADED: Final = 100_000
#: How a shortage was settled is at least a word; a choice of ours. [-]
SETTLED_LENGTH: Final = 3
_KEY: Final = re.compile(r"[a-z0-9][a-z0-9_:./-]{0,39}")


@dataclass(frozen=True, slots=True)
class Worked:
    """Hours as somebody says they were; ``clock`` is the one put right, None where nobody started one."""

    phase: str
    start: dt.datetime
    end: dt.datetime
    reason: str
    clock: UUID | None = None
    who: int = 0
    name: str = ""


def checked_job_value(entry: Entry, *, people: Collection[int], phases: Collection[str]) -> Any:
    """Return the value to store; raise EntryRefused for what cannot be right.

    ``people`` are the ids of the shop's people, ``phases`` the letters of the job's phases.
    """
    if entry.verb == UNDO:
        return None
    if entry.verb in LOAD_VERBS:
        if not _KEY.fullmatch(entry.field):
            raise EntryRefused("A load names its line of the pull list.")
        return _count(entry.value) if entry.verb == LOAD else _shortage(entry.value)
    if entry.verb == STOP:
        return {"start": _id(_object(entry.value).get("start"))}
    if entry.verb not in CLOCK_VERBS:
        raise EntryRefused(f"{entry.verb!r} is nothing that is recorded without a step.")
    if entry.field not in phases and not (entry.verb == CORRECT and not entry.field):
        raise EntryRefused(f"“{entry.field}” is no phase of this job.")
    if entry.verb == START:
        return _who(_object(entry.value), people)
    return _correction(entry, _object(entry.value), people)


def job_words(entry: Entry) -> tuple[str, str]:
    """Return what an event of the job is about and what it says, whatever came in."""
    value: Mapping[str, Any] = entry.value if isinstance(entry.value, dict) else {}
    if entry.verb == START:
        return f"Clock started, phase {entry.field}", str(value.get("name", ""))[:150]
    if entry.verb == STOP:
        return "Clock stopped", ""
    if entry.verb == CORRECT:
        times = f"{value.get('from', '')} to {value.get('to', '')}"
        return "Hours put right", f"{times[:100]}: {entry.cause[:200]}"
    if entry.verb == LOAD:
        return f"Loaded: {entry.field}", str(entry.value)[:40]
    note = str(value.get("note", ""))[:200]
    return f"Missing: {entry.field}", f"{str(value.get('missing', ''))[:40]} {note}".strip()


def _correction(entry: Entry, value: Mapping[str, Any], people: Collection[int]) -> dict[str, Any]:
    """Return hours put right by hand: of a clock, or of a person whose clock nobody started."""
    if len(entry.cause.strip()) < REASON_LENGTH:
        raise EntryRefused("Please say why the hours are put right by hand.")
    begun, ended = _moment(value.get("from")), _moment(value.get("to"))
    length_h = (ended - begun).total_seconds() / 3600
    if not 0 <= length_h <= MOST_BY_HAND_H:
        raise EntryRefused(f"Hours by hand must be 0 to {MOST_BY_HAND_H:g} h, got {length_h:.2f} h.")
    times = {"from": value["from"], "to": value["to"]}
    if value.get("start"):
        return times | {"start": _id(value["start"])}
    if not entry.field:
        raise EntryRefused("Hours without a clock must name their phase.")
    return times | _who(value, people)


def _who(value: Mapping[str, Any], people: Collection[int]) -> dict[str, Any]:
    who, name = value.get("who"), value.get("name")
    if isinstance(who, bool) or not isinstance(who, int) or who not in people:
        raise EntryRefused("A clock belongs to a person of this shop.")
    if not isinstance(name, str) or not 0 < len(name) <= 150:
        raise EntryRefused("A clock names its person.")
    return {"who": who, "name": name}


def _shortage(value: Any) -> dict[str, Any]:
    found = _object(value)
    note = found.get("note", "")
    if not isinstance(note, str) or len(note) > NOTE_LENGTH:
        raise EntryRefused(f"A note is text of at most {NOTE_LENGTH} characters.")
    return {"missing": _count(found.get("missing")), "note": note}


def _count(value: Any) -> float | int:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise EntryRefused("A quantity is a number.")
    if not 0 <= value <= MOST_LOADED:
        raise EntryRefused(f"A quantity must be 0 to {MOST_LOADED:,}, got {value:g}.")
    return value


def _object(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise EntryRefused("This event says nothing.")
    return value


def _id(value: Any) -> str:
    try:
        return str(UUID(value))
    except (ValueError, TypeError, AttributeError):
        raise EntryRefused("A stop or a correction names its clock.") from None


def _moment(value: Any) -> dt.datetime:
    try:
        found = dt.datetime.fromisoformat(value)
    except (ValueError, TypeError):
        raise EntryRefused("Hours by hand say from when to when.") from None
    if found.tzinfo is None or not 2000 <= found.year <= 2100:
        raise EntryRefused("Hours by hand say from when to when, with the zone.")
    return found
