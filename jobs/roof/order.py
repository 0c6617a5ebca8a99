"""Puts the panels of a string in the order they are wired, with the line that shows it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from jobs.roof.layout import Box, PanelShape

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Leg:
    """One step of a string, from the label of a panel to the label of the next one [mm]."""

    string: str
    start: Point
    end: Point


def in_order(panels: Iterable[PanelShape]) -> dict[str, list[PanelShape]]:
    """Return the panels of every string in the order they are wired; those in none under an empty name."""
    strings: dict[str, list[PanelShape]] = {}
    for panel in sorted(panels, key=lambda one: (one.place, one.number)):
        strings.setdefault(panel.string, []).append(panel)
    return strings


def string_legs(panels: Iterable[PanelShape], half: dict[int, Point]) -> Iterator[Leg]:
    """Yield the steps of all strings; ``half`` is half the size of each panel's label, which stays free."""
    for string, members in in_order(panels).items():
        for one, other in itertools.pairwise(members) if string else ():
            start = _leaving(one.box, half[one.number], other.box.middle)
            end = _leaving(other.box, half[other.number], one.box.middle)
            if math.dist(start, end) > 1.0:
                yield Leg(string, start, end)


def _leaving(box: Box, half: Point, towards: Point) -> Point:
    """Return where a line from the middle of a box to a point leaves the label that lies on the middle."""
    (x, y), (across, up) = box.middle, half
    dx, dy = towards[0] - x, towards[1] - y
    if not dx and not dy:
        return x, y
    share = min(across / abs(dx) if dx else math.inf, up / abs(dy) if dy else math.inf, 1.0)
    return x + dx * share, y + dy * share
