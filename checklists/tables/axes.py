"""The as-built values one table turns on, and the settings of each that are asked beforehand. Pure.

An axis is a switch with numbered options; a continuous value is a line. What a reported value means on an
axis is written as parts (``value``, ``raw``, ``band``, ``rafter``), which the tablet reads by itself.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

#: Points asked along a line, as shares between its ends on a logarithmic scale.
_GRID = (0.0, 0.27, 0.51, 0.68, 0.83, 1.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """One switch: how it is read from the reported values, its options, what each option reports."""

    parts: tuple[Mapping[str, Any], ...]
    options: tuple[str, ...]
    reports: tuple[Mapping[str, Any], ...]
    refused: Mapping[str, str] = field(default_factory=dict)
    otherwise: str = ""  # what is said of any other setting; {0}, {1} stand for what was reported

    @property
    def names(self) -> tuple[str, ...]:
        """Return the as-built names it is read from."""
        return tuple(str(part["name"]) for part in self.parts)

    @property
    def is_plan(self) -> bool:
        """Return whether it is the switch over string plans."""
        return self.names[0] == "strings.ns"

    def to_json(self) -> dict[str, Any]:
        """Return it as the tablet reads it."""
        out = {"parts": list(self.parts), "options": list(self.options), "refused": dict(self.refused)}
        return out | ({"otherwise": self.otherwise} if self.otherwise else {})


@dataclass(frozen=True, slots=True)
class Line:
    """One continuous value: where it lies.

    A line with ``legs`` is a drop added up from several circuits; one with ``chains`` is the first value
    reported under several names, which are other ones for each string plan.
    """

    name: str
    low: float
    high: float
    legs: tuple[tuple[str, ...], ...] = ()
    quantity: str = ""
    chains: tuple[tuple[str, ...], ...] = ()

    def grid(self) -> list[float]:
        """Return the points to ask at, both ends among them."""
        bottom = self.low if self.low > 0 else self.high / 2000.0
        points = [bottom * (self.high / bottom) ** share for share in _GRID]
        points[-1] = self.high
        return ([self.low] if self.low <= 0 else []) + points

    def to_json(self) -> dict[str, Any]:
        """Return it as the tablet reads it."""
        out: dict[str, Any] = {"name": self.name, "low": self.low, "high": self.high}
        if self.legs:
            out |= {"legs": [list(leg) for leg in self.legs], "quantity": self.quantity}
        if self.chains:
            out["chains"] = [list(chain) for chain in self.chains]
        return out


def text_of(value: Any) -> str:
    """Return one text for one value, as both sides write it: 7 and 7.0 are the same, yes and no are words."""
    if isinstance(value, bool) or value is None:
        return json.dumps(value)
    if isinstance(value, int | float):
        return str(int(value)) if value == int(value) else repr(float(value))
    return str(value)


def switch(name: str, options: Sequence[Any], plan: Any = None) -> Axis:
    """Return a switch over the values of one name; not reported means ``plan``."""
    texts = tuple(dict.fromkeys((text_of(plan), *(text_of(option) for option in options))))
    by_text = {text_of(option): option for option in options}
    reports = tuple({name: by_text[text]} if text in by_text else {} for text in texts)
    reports = ({}, *reports[1:])  # the first option is the plan: nothing reported
    return Axis(({"name": name, "as": "value", "plan": text_of(plan)},), texts, reports)


def pair(names: tuple[str, str], plan: tuple[Any, Any], options: Sequence[tuple[Any, Any]]) -> Axis:
    """Return a switch over two names that mean something only together (size and standard)."""
    both = list(dict.fromkeys([plan, *options]))
    return Axis(
        tuple(
            {"name": name, "as": "value", "plan": text_of(value)}
            for name, value in zip(names, plan, strict=True)
        ),
        tuple(f"{text_of(first)}|{text_of(second)}" for first, second in both),
        ({}, *({names[0]: first, names[1]: second} for first, second in both[1:])),
    )


def bands(name: str, starts: Sequence[int], plan: int) -> Axis:
    """Return a switch over ranges of a count; each start opens a range. The plan's own range comes first."""
    ordered = sorted(starts)
    home = max(start for start in ordered if start <= plan)
    options = [home, *(start for start in ordered if start != home)]
    part = {"name": name, "as": "band", "starts": ordered, "plan": plan}
    return Axis(
        (part,), tuple(str(start) for start in options), ({}, *({name: start} for start in options[1:]))
    )


def band_starts(counts: Sequence[int], answers: Sequence[Any]) -> list[int]:
    """Return where the answer changes along a count."""
    later = [
        count
        for (_, before), (count, after) in pairwise(zip(counts, answers, strict=True))
        if before != after
    ]
    return [counts[0], *later]
