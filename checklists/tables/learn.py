"""Learns what the answers of one part depend on, so that every combination can be tabulated.

Nothing here knows a formula. The engine is asked, one switch or line at a time, what moves which part of
which check; the parts that move together are asked in every combination. A part that follows a line does so
as ``a + b·x``. What does not fit this form is left out, and is caught when the tables are read against the
engine at points nobody asked before.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import sizing
from checklists.tables.axes import Axis, Line

NUMBERS: Final = ("value", "limit", "block")
LABELS: Final = ("sig", "title", "unit")
_REL: Final = 1e-11
_MOST_BREAKS: Final = 6
#: Below this a line counts as nothing [its unit].
_SMALLEST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Point:
    """One setting of all switches and lines of a part; a line is None where nothing was reported."""

    switches: tuple[int, ...]
    lines: tuple[float | None, ...]

    def turned(self, axis: int, option: int) -> Point:
        """Return the point with one switch turned."""
        return Point((*self.switches[:axis], option, *self.switches[axis + 1 :]), self.lines)

    def moved(self, line: int, x: float | None) -> Point:
        """Return the point with one line moved."""
        return Point(self.switches, (*self.lines[:line], x, *self.lines[line + 1 :]))


Answers = Mapping[str, sizing.Check]


@dataclass
class Group:
    """One part of the system: its switches, its lines, and how the engine is asked."""

    axes: Sequence[Axis]
    lines: Sequence[Line]
    ask: Callable[[Point], tuple[Answers, tuple[float | None, ...]]]
    known: dict[Point, tuple[Answers, tuple[float | None, ...]]] = field(default_factory=dict)

    def answers(self, point: Point) -> Answers:
        """Return the checks at a point, asked once."""
        return self._at(point)[0]

    def xs(self, point: Point) -> tuple[float | None, ...]:
        """Return what the lines read at a point: as set, or added up from the circuits."""
        return self._at(point)[1]

    def _at(self, point: Point) -> tuple[Answers, tuple[float | None, ...]]:
        if point not in self.known:
            self.known[point] = self.ask(point)
        return self.known[point]

    @property
    def base(self) -> Point:
        """Return the plan: every switch at its first option, nothing reported."""
        return Point((0,) * len(self.axes), (None,) * len(self.lines))


def signature(check: sizing.Check | None) -> str:
    """Return how a verdict comes about: by its limit, the same way everywhere, or fixed here."""
    if check is None:
        return ""
    bounds = check.bounds
    if bounds is not None:
        from_memory = not check.provenance.may_pass
        if banded(bounds, check.value, check.limit, from_memory=from_memory) is check.verdict:
            return f"rule|{int(bounds.at_least)}|{bounds.beyond}|{int(from_memory)}|{bounds.at_limit}"
    return f"fixed|{check.verdict}"


def banded(
    bounds: sizing.Bounds, value: float | None, limit: float | None, *, from_memory: bool
) -> sizing.Verdict:
    """Return the verdict by the limit alone; the tablet takes the same step (see ``as_built.js``)."""
    if value is None or limit is None:
        return sizing.Verdict.NOT_ENOUGH_DATA
    if sizing.is_within(value, limit, at_least=bounds.at_least):
        kept = sizing.Verdict.CAUTION if from_memory else sizing.Verdict.PASS
        return max(kept, bounds.at_limit, key=_severity) if sizing.is_at(value, limit) else kept
    if bounds.block_limit is None:
        return bounds.beyond
    is_between = sizing.is_within(value, bounds.block_limit, at_least=bounds.at_least)
    return sizing.Verdict.CAUTION if is_between else sizing.Verdict.BLOCK


def meets(value: float | None, limit: float | None) -> bool:
    """Return whether a value is known to reach its limit."""
    return value is not None and limit is not None and sizing.is_within(value, limit, at_least=True)


def _severity(verdict: sizing.Verdict) -> int:
    return verdict.severity


def part_of(check: sizing.Check | None, part: str) -> Any:
    """Return one part of a check: what is tabulated by itself."""
    if part == "sig":
        return signature(check)
    if check is None:
        return None
    if part == "block":
        return None if check.bounds is None else check.bounds.block_limit
    return getattr(check, part)


def same(one: Any, other: Any) -> bool:
    """Return whether two parts are the same, numbers to 1e-11 of each other."""
    if isinstance(one, float | int) and isinstance(other, float | int):
        return math.isclose(one, other, rel_tol=_REL, abs_tol=1e-13)
    return bool(one == other)


# -- what moves what ------------------------------------------------------------------------------------


@dataclass
class Moves:
    """Which switches, lines and breaks move each part of one check."""

    axes: dict[str, set[int]] = field(default_factory=lambda: {p: set() for p in (*NUMBERS, *LABELS)})
    given: dict[str, set[int]] = field(default_factory=lambda: {p: set() for p in (*NUMBERS, *LABELS)})
    along: dict[str, set[int]] = field(default_factory=lambda: {p: set() for p in NUMBERS})
    breaks: dict[int, list[list[tuple[float, float | None]]]] = field(default_factory=dict)

    def without(self, axes: Collection[int], lines: Collection[int]) -> Moves:
        """Return what moves a check while these switches and lines stand as planned."""
        return Moves(
            {part: found - set(axes) for part, found in self.axes.items()},
            {part: found - set(lines) for part, found in self.given.items()},
            {part: found - set(lines) for part, found in self.along.items()},
            {line: ends for line, ends in self.breaks.items() if line not in lines},
        )

    def widen(self, other: Moves) -> None:
        """Take in what another look found."""
        for mine, theirs in ((self.axes, other.axes), (self.given, other.given), (self.along, other.along)):
            for part, found in theirs.items():
                mine[part] |= found
        for line, ends in other.breaks.items():
            self.breaks.setdefault(line, []).extend(ends)


def moves_of(group: Group, bases: Sequence[Point]) -> dict[str, Moves]:
    """Return what moves each check, found by turning one thing at a time from several bases."""
    found: dict[str, Moves] = {}
    for base in bases:
        home = group.answers(base)
        for axis, point in _turns(group, base):
            _note(found, home, group.answers(point), _along_axis(axis))
        for line in range(len(group.lines)):
            _note_line(group, found, base, line)
    for base in bases:
        for key in group.answers(base):
            found.setdefault(key, Moves())
    return found


def _turns(group: Group, base: Point) -> Iterator[tuple[int, Point]]:
    for axis, switch in enumerate(group.axes):
        for option in range(len(switch.options)):
            if option != base.switches[axis] and switch.options[option] not in switch.refused:
                yield axis, base.turned(axis, option)


def _along_axis(axis: int) -> Callable[[Moves, str], None]:
    """Return what notes for a part that turning this axis moves it."""
    return lambda moves, part: moves.axes[part].add(axis)


def _note(found: dict[str, Moves], home: Answers, there: Answers, add: Callable[[Moves, str], Any]) -> None:
    for key in home.keys() | there.keys():
        moves = found.setdefault(key, Moves())
        before, after = home.get(key), there.get(key)
        for part in (*NUMBERS, *LABELS):
            if not same(part_of(before, part), part_of(after, part)):
                add(moves, part)


def _note_line(group: Group, found: dict[str, Moves], base: Point, line: int) -> None:
    """Note what changes when a line is reported at all, and what then follows it or breaks along it."""
    silent = base.moved(line, None)
    points = [base.moved(line, x) for x in group.lines[line].grid()]
    keys = sorted({key for point in (silent, *points) for key in group.answers(point)})
    for key in keys:
        moves = found.setdefault(key, Moves())
        checks = [group.answers(point).get(key) for point in points]
        quiet, middle = group.answers(silent).get(key), checks[len(checks) // 2]
        for part in (*LABELS, *NUMBERS):
            if not same(part_of(quiet, part), part_of(middle, part)):
                moves.given[part].add(line)
        still, is_stepping = [], False
        for part in (*LABELS, *NUMBERS):
            values = [part_of(check, part) for check in checks]
            steps = sum(not same(*pair) for pair in itertools.pairwise(values))
            if steps:
                moves.given[part].add(line)
            if steps == len(points) - 1 and part in NUMBERS:
                moves.along[part].add(line)
            else:
                still.append(part)
                is_stepping |= steps > 0
        if not is_stepping:
            continue
        ends = [
            end
            for low, high in itertools.pairwise(points)
            for end in _breaks(group, key, still, low, high, line)
        ]
        if ends:
            moves.breaks.setdefault(line, []).append(ends)


def _near_limits(group: Group, key: str, low: Point, high: Point, line: int) -> Iterator[tuple[float, float]]:
    """Yield neighboring numbers on a line at the limits of a check: where it most likely breaks."""
    a, b = low.lines[line] or 0.0, high.lines[line] or 0.0
    for point in (low, high):
        for part in ("limit", "block"):
            limit = part_of(group.answers(point).get(key), part)
            if limit is not None and a < limit < b:
                yield math.nextafter(limit, a), limit
                yield limit, math.nextafter(limit, b)


def _parts(home: list[Any], heard: Callable[[float], list[Any]], low: float, high: float) -> bool:
    """Return whether the answer changes between two neighboring numbers."""
    return all(map(same, home, heard(low))) and not all(map(same, home, heard(high)))


def _halved(home: list[Any], heard: Callable[[float], list[Any]], a: float, b: float) -> tuple[float, float]:
    """Return the neighboring numbers between which the answer changes, found by halving."""
    while a < (middle := (a + b) / 2) < b and b > _SMALLEST:
        if all(map(same, home, heard(middle))):
            a = middle
        else:
            b = middle
    return a, b


def _breaks(
    group: Group, key: str, parts: Sequence[str], low: Point, high: Point, line: int
) -> Iterator[tuple[float, float | None]]:
    """Yield each last point of a line before a part changes [its unit], and the value there."""

    def heard(x: float) -> list[Any]:
        check = group.ask(low.moved(line, x))[0].get(key)
        return [part_of(check, part) for part in parts]

    a, b = low.lines[line] or 0.0, high.lines[line] or 0.0
    end = heard(b)
    for _ in range(_MOST_BREAKS):
        home = heard(a)
        if all(map(same, home, end)):
            return
        near = _near_limits(group, key, low.moved(line, a), high, line)
        found = (ends for ends in near if _parts(home, heard, *ends))
        a, upper = next(found, None) or _halved(home, heard, a, b)
        check = group.ask(low.moved(line, a))[0].get(key)
        yield a, None if check is None else check.value
        a = upper
