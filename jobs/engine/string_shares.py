"""Shares panels between controllers: a plan says how many, the sun says which."""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

import sizing

#: Ways to share the panels looked at one by one; beyond, only neat shares along and across the roof.
MOST_SHARES: Final = 84

Strings = tuple[sizing.StringInput, ...]
Share = dict[str, tuple[str, ...]]  # controller: panels


def other_shares(
    strings: Strings,
    *,
    model_of: Mapping[str, Hashable],
    twin_of: Mapping[str, Hashable],
    places: Mapping[str, tuple[float, float]],
) -> tuple[list[Strings], bool]:
    """Return the strings with their panels shared otherwise between controllers, and whether that is all.

    A panel changes places with its own model only, so that whatever stood by the string rules still stands.
    Shares that only swap controllers of one kind (``twin_of``) count as one. The given strings are left out.
    """
    slots = _slots(strings, model_of)
    if len({one.controller_id for one in strings}) < 2:
        return [], True
    count = math.prod(_count(wanted) for wanted in slots.values())
    shares = _all(slots, model_of) if count <= MOST_SHARES else _neat(slots, model_of, places)
    seen = {_key(strings, twin_of)}
    found = []
    for share in shares:
        made = _filled(strings, share, model_of)
        if (key := _key(made, twin_of)) not in seen:
            seen.add(key)
            found.append(made)
    return found, count <= MOST_SHARES


def _slots(strings: Strings, model_of: Mapping[str, Hashable]) -> dict[Hashable, dict[str, int]]:
    """Return how many panels of each model each controller has."""
    slots: dict[Hashable, dict[str, int]] = {}
    for one in strings:
        for panel in one.panel_ids:
            wanted = slots.setdefault(model_of[panel], {})
            wanted[one.controller_id] = wanted.get(one.controller_id, 0) + 1
    return slots


def _count(wanted: Mapping[str, int]) -> int:
    """Return in how many ways that many panels are shared (multinomial coefficient)."""
    rest, ways = sum(wanted.values()), 1
    for size in wanted.values():
        ways *= math.comb(rest, size)
        rest -= size
    return ways


def _all(slots: Mapping[Any, Mapping[str, int]], model_of: Mapping[str, Hashable]) -> Iterator[Share]:
    per_model = [
        list(_shared(tuple(one for one in model_of if model_of[one] == model), list(wanted.items())))
        for model, wanted in slots.items()
    ]
    for parts in itertools.product(*per_model):
        yield _joined(parts)


def _shared(panels: tuple[str, ...], wanted: list[tuple[str, int]]) -> Iterator[Share]:
    if not wanted:
        yield {}
        return
    (label, size), *others = wanted
    for taken in itertools.combinations(panels, size):
        for rest in _shared(tuple(one for one in panels if one not in taken), others):
            yield {label: taken, **rest}


def _neat(
    slots: Mapping[Any, Mapping[str, int]],
    model_of: Mapping[str, Hashable],
    places: Mapping[str, tuple[float, float]],
) -> Iterator[Share]:
    """Yield shares in order along and across the roof, from either end."""
    for axis, sign in itertools.product((0, 1), (1, -1)):
        order = sorted(model_of, key=lambda one: (sign * places[one][axis], places[one][1 - axis]))
        parts = []
        for model, wanted in slots.items():
            left = iter([one for one in order if model_of[one] == model])
            parts.append({label: tuple(itertools.islice(left, size)) for label, size in wanted.items()})
        yield _joined(parts)


def _joined(parts: Any) -> Share:
    share: Share = {}
    for part in parts:
        for label, panels in part.items():
            share[label] = (*share.get(label, ()), *panels)
    return share


def _filled(strings: Strings, share: Share, model_of: Mapping[str, Hashable]) -> Strings:
    """Return the strings with the panels of a share in the places of their models."""
    left = {label: list(panels) for label, panels in share.items()}

    def taken(label: str, model: Hashable) -> str:
        panel = next(one for one in left[label] if model_of[one] == model)
        left[label].remove(panel)
        return panel

    return tuple(
        replace(one, panel_ids=tuple(taken(one.controller_id, model_of[panel]) for panel in one.panel_ids))
        for one in strings
    )


def _key(strings: Strings, twin_of: Mapping[str, Hashable]) -> Any:
    panels: dict[str, set[str]] = {}
    for one in strings:
        panels.setdefault(one.controller_id, set()).update(one.panel_ids)
    return frozenset((twin_of[label], frozenset(members)) for label, members in panels.items())
