"""The plain reference: what must be known of a job, worked out from its events without any code of ours.

A value stands unless it was undone, or a value that was not undone names it, directly or through values it
names (a multi-value register: Shapiro et al., INRIA RR-7506, 2011, section 3.2.2; undo is ours). Values that
replace each other in a ring all stand. Clocks are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

Sent = dict[str, Any]  # an event as a tablet sends it
State = dict[tuple[int, str], frozenset[str]]  # step and field → ids that stand


def standing(events: Iterable[Sent]) -> State:
    """Return the ids that stand at each field."""
    once = {event["id"]: event for event in events}
    undone = {event["undoes"] for event in once.values() if event.get("verb") == "undo"}
    fields: dict[tuple[int, str], set[str]] = {}
    for name, event in once.items():
        if event.get("verb", "record") == "record":
            fields.setdefault((event["step"], event["field"]), set()).add(name)
    found: State = {}
    for key, names in fields.items():
        live = names - undone
        gone = set()
        for name in live:
            gone |= _named(name, once, names)
        found[key] = frozenset((live - gone) or live)
    return {key: names for key, names in found.items() if names}


def _named(name: str, once: dict[str, Sent], names: set[str]) -> set[str]:
    """Return everything an event names, and what that names in turn; never itself."""
    found: set[str] = set()
    before = -1
    todo = set(once[name].get("replaces", ()))
    while len(found) != before:
        before = len(found)
        found |= todo
        todo = {each for other in found & names for each in once[other].get("replaces", ())}
    return found - {name}
