"""The plain reference: what must be known of a job, worked out from its events without any code of ours.

A value stands unless it was undone, or a value that was not undone names it, directly or through values it
names (a multi-value register: Shapiro et al., INRIA RR-7506, 2011, section 3.2.2; undo is ours). Clocks are
not looked at.
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
        gone = _named(live, once, names)
        found[key] = frozenset(live - gone)
    return {key: names for key, names in found.items() if names}


def _named(live: set[str], once: dict[str, Sent], names: set[str]) -> set[str]:
    """Return everything that live values name, and what that names in turn.

    A tablet only names what it has seen: in these tests no value can name itself by a detour.
    """
    found: set[str] = set()
    todo = [each for name in live for each in once[name].get("replaces", ())]
    while todo:
        name = todo.pop()
        if name not in found:
            found.add(name)
            if name in names:
                todo += once[name].get("replaces", ())
    return found
