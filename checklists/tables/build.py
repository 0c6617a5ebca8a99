"""Builds the tables of one job: every part learned, read back against the engine, written as JSON.

The tables ship with a job to the tablet, which then raises a deviation without a network. A check whose
tables do not give the engine's answer at points nobody asked before is not shipped: the tablet says that the
office must be asked.
"""

from __future__ import annotations

import math
import random
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, Final

import sizing
from checklists.tables.axes import Axis
from checklists.tables.fill import NoFit, tables_of
from checklists.tables.learn import Group, Moves, Point, moves_of, part_of
from checklists.tables.parts import Job, SystemPart, parts_of, plan_axes
from checklists.tables.read import NotCovered, Reader, Refused
from checklists.tables.readings import reading_tables
from checklists.tables.words import Sentence, in_general, is_tight, templates_of

#: Raised when the form of the tables changes, so that stored ones are made anew.
TABLES_VERSION: Final = "3"
_HELD_OUT: Final = 24
_BASES: Final = 1
_ROUNDS: Final = 4
_WHOLE: Final = 10
_Places = tuple[Sequence[int], Sequence[int]]


def tables(job: Job, before: Iterable[sizing.Check]) -> dict[str, Any]:
    """Return the tables of a job as JSON, with the checks as accepted to compare with."""
    accepted = {check.key: check for check in before}
    made, parts = _Made(), list(parts_of(job))
    for part in parts:
        made.add(part)
    made.cross_check(job, parts)
    body = made.to_json()
    body["before"] = {
        key: {"verdict": str(check.verdict), "value": check.value, "title": check.title}
        for key, check in accepted.items()
        if key in {each["key"] for each in (*body["checks"], *body["asks"])}
    }
    body["subjects"] = dict(made.subjects)
    plan = next(plan_axes(job), None)
    place = None if plan is None else made.place_of(plan)
    body["readings"] = reading_tables(job, plan, place)
    return body


class _Made:
    """The tables as they grow: switches and lines of all parts in one list, each string once."""

    def __init__(self) -> None:
        self.axes: list[dict[str, Any]] = []
        self.lines: list[dict[str, Any]] = []
        self.words: dict[str, int] = {}
        self.checks: list[dict[str, Any]] = []
        self.asks: list[dict[str, Any]] = []
        self.subjects: dict[str, str] = {}

    def to_json(self) -> dict[str, Any]:
        """Return everything made so far."""
        return {
            "version": TABLES_VERSION,
            "engine": sizing.ENGINE_VERSION,
            "axes": self.axes,
            "lines": self.lines,
            "words": list(self.words),
            "checks": self.checks,
            "asks": self.asks,
        }

    def cross_check(self, job: Job, parts: Sequence[SystemPart]) -> None:
        """Set the tables against the whole engine with everything turned at once; ask where they fail."""
        rng, body = random.Random(len(parts)), self.to_json()  # noqa: S311 - the same points every time
        for _ in range(_WHOLE):
            values: dict[str, Any] = {}
            for part in parts:
                values |= part.reports(_random_point(part.group, rng))
            if job.refusal(values):
                continue
            reader = Reader(body, values)
            whole = {check.key: check for check in sizing.size_system(job.built(values)).checks}
            for tables in [each for each in self.checks if "#" not in each["key"]]:
                if not self._agrees(reader, tables, whole.get(tables["key"])):
                    self.checks.remove(tables)
                    names = [name for part in parts for name in part.names]
                    self.asks.append({"key": tables["key"], "title": tables["key"], "names": names})

    @staticmethod
    def _agrees(reader: Reader, tables: Mapping[str, Any], check: sizing.Check | None) -> bool:
        try:
            verdict, value, limit, title = reader.check(tables)
        except (NotCovered, Refused):
            return True  # it says so by itself
        wanted = ("", None, None, "") if check is None else _answer(check)
        is_same = (verdict, title) == (wanted[0], wanted[3])
        return is_same and _near(value, wanted[1]) and _near(limit, wanted[2])

    def place_of(self, axis: Axis) -> int | None:
        """Return the number of a switch among those kept."""
        found = axis.to_json()
        return self.axes.index(found) if found in self.axes else None

    def add(self, part: SystemPart) -> None:
        """Learn one part and keep what stands up to being read back."""
        group = part.group
        axis_of = [self._kept(self.axes, axis.to_json()) for axis in group.axes]
        line_of = [self._kept(self.lines, line.to_json()) for line in group.lines]
        rng = random.Random(part.name)  # noqa: S311 - the same points every time, nothing secret
        held_out = _HELD_OUT + _HELD_OUT * len(group.axes) // 2
        points = [_random_point(group, rng) for _ in range(held_out + _BASES)]
        bases = [group.base, _middle(group), *points[held_out:]]
        found = moves_of(group, bases)
        for key in part.held.keys() & found.keys():
            found[key] = moves_of(group, _as_held(group, bases, part.held[key]))[key]
        for key, moves in sorted(found.items()):
            check = next(group.answers(base)[key] for base in group.known if key in group.answers(base))
            self.subjects[key] = check.subject
            held = part.held.get(key, {})
            made = self._proven(group, key, moves, (axis_of, line_of), points[:held_out], held)
            if made is None:
                self.asks.append({"key": key, "title": check.title, "names": list(part.names)})
            elif "#" in key or held or not _is_constant(made):
                self.checks.append(made)

    def _proven(
        self,
        group: Group,
        key: str,
        moves: Moves,
        places: _Places,
        points: Sequence[Point],
        held: Mapping[str, Any],
    ) -> dict[str, Any] | None:
        """Return tables that hold at every point; where one fails, look around it and learn again."""
        for _ in range(_ROUNDS):
            made = self._learned(group, key, moves, places, _places_of(group, held))
            if made is not None and held:
                made["held"] = dict(held)
            failed = None if made is None else self._failed(group, made, key, points)
            if made is None or failed is None:
                return made
            moves.widen(moves_of(group, [failed]).get(key, Moves()))
        return None

    def _learned(
        self, group: Group, key: str, moves: Moves, places: _Places, still: _Places
    ) -> dict[str, Any] | None:
        moves, (axis_of, line_of) = moves.without(*still), places
        try:
            learned = tables_of(group, key, moves)
        except NoFit:
            return None
        made = {"key": key, **{part: self._placed(t, axis_of, line_of) for part, t in learned.items()}}
        if "#" not in key:
            made["said"] = self._sentences(group, key, moves, places, still)
        return made

    def _kept(self, kept: list[dict[str, Any]], new: dict[str, Any]) -> int:
        if new not in kept:
            kept.append(new)
        return kept.index(new)

    def _word(self, text: str) -> int:
        return self.words.setdefault(text, len(self.words))

    def _placed(self, table: Any, axis_of: Sequence[int], line_of: Sequence[int]) -> Any:
        """Return a table with switches and lines numbered as in the whole, strings as numbers."""
        if not isinstance(table, Mapping):
            return table
        out = dict(table)
        if "factors" in out:
            out["factors"] = [self._placed(row, axis_of, line_of) for row in out["factors"]]
        if "dims" in out:
            places = {"a": axis_of, "g": line_of, "s": line_of}
            out["dims"] = [[kind, places[kind][n] if kind in places else n] for kind, n in out["dims"]]
        if "line" in out:
            out["line"] = line_of[out["line"]]
        if "all" in out:
            out["all"] = [self._word(text) for text in out["all"]]
        return out

    def _sentences(
        self, group: Group, key: str, moves: Moves, places: _Places, still: _Places
    ) -> dict[str, Any]:
        heard, (axis_of, line_of) = [], places
        for point in (each for each in group.known if _stands(each, still)):
            check = group.answers(point).get(key)
            if check is not None and check.sentence != in_general(check) and not is_tight(check):
                heard.append(
                    Sentence(
                        point.switches,
                        str(check.verdict),
                        check.sentence,
                        _numbers(group, point, check, line_of),
                    )
                )
        axes = sorted(set().union(*moves.axes.values()))
        return {
            verdict: {
                "dims": [axis_of[axis] for axis in table["dims"]],
                "by": {cell: self._word(text) for cell, text in table["by"].items()},
            }
            for verdict, table in templates_of(heard, axes).items()
        }

    def _failed(
        self, group: Group, made: Mapping[str, Any], key: str, points: Iterable[Point]
    ) -> Point | None:
        """Return the first point at which the tables do not give the engine's answer, None when all hold."""
        body = self.to_json()
        body["checks"] = [*self.checks, made]
        for point in points:
            check = group.answers(point).get(key)
            if not self._agrees(_At(body, group, point), made, check):
                return point
        return None


#: Switches that are read from more than their own name: where a point stands says them.
_STOOD: Final = ("leads", "meets")


class _At(Reader):
    """A reader that stands at a point of one part, for reading back while the tables are made."""

    def __init__(self, body: Mapping[str, Any], group: Group, point: Point) -> None:
        values: dict[str, Any] = {}
        self._stood: dict[str, str] = {}
        for axis, option in zip(group.axes, point.switches, strict=True):
            values |= axis.reports[option]
            self._stood |= {str(axis.parts[0]["name"]): axis.options[option]}
        for line, x in zip(group.lines, point.lines, strict=True):
            values |= {} if x is None else {line.name: x}
        super().__init__(body, values)
        self._xs = {line.name: x for line, x in zip(group.lines, group.xs(point), strict=True)}

    def _part(self, part: Mapping[str, Any]) -> str:
        return self._stood[part["name"]] if part["as"] in _STOOD else super()._part(part)

    def x(self, line: int) -> float | None:
        """Return what a line reads at the point."""
        return self._xs[self.body["lines"][line]["name"]]


def _places_of(group: Group, names: Collection[str]) -> tuple[list[int], list[int]]:
    """Return the switches and lines that are read from these names."""
    axes = [n for n, axis in enumerate(group.axes) if set(axis.names) & set(names)]
    return axes, [n for n, line in enumerate(group.lines) if line.name in names]


def _as_held(group: Group, bases: Iterable[Point], names: Collection[str]) -> list[Point]:
    """Return points with what is read from these names as planned."""
    axes, lines = _places_of(group, names)
    out = []
    for base in bases:
        point = base
        for axis in axes:
            point = point.turned(axis, 0)
        for line in lines:
            point = point.moved(line, None)
        out.append(point)
    return out


def _stands(point: Point, still: _Places) -> bool:
    """Return whether these switches and lines are as planned at a point."""
    axes, lines = still
    return not any(point.switches[n] for n in axes) and all(point.lines[n] is None for n in lines)


def _numbers(group: Group, point: Point, check: sizing.Check, line_of: Sequence[int]) -> dict[str, float]:
    """Return the numbers the tablet knows of a check, by the names its templates use."""
    found = {"v": check.value, "l": check.limit, "b": part_of(check, "block")}
    found |= {f"x{line_of[n]}": x for n, x in enumerate(group.xs(point))}
    if check.value is not None and check.limit is not None:
        found["d"] = check.value - check.limit
    return {name: number for name, number in found.items() if number is not None}


def _answer(check: sizing.Check) -> tuple[str, float | None, float | None, str]:
    return str(check.verdict), check.value, check.limit, check.title


def _random_point(group: Group, rng: random.Random) -> Point:
    switches = []
    for axis in group.axes:
        free = [n for n, option in enumerate(axis.options) if option not in axis.refused]
        switches.append(rng.choice(free))
    lines = []
    for line in group.lines:
        low = line.low if line.low > 0 else line.high / 1000
        x = round(low * (line.high / low) ** rng.random(), 4)
        lines.append(None if rng.random() < 0.25 else min(max(x, line.low), line.high))
    return Point(tuple(switches), tuple(lines))


def _middle(group: Group) -> Point:
    return Point(group.base.switches, tuple(line.grid()[2] for line in group.lines))


def _near(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)


def _is_constant(made: Mapping[str, Any]) -> bool:
    """Return whether nothing as built can change this check: it needs no table."""
    return not any(
        isinstance(made.get(part), Mapping) for part in ("sig", "value", "limit", "block", "title")
    )
