"""Fills the tables: every combination of what moves a figure together, or factors that multiply."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

import sizing
from checklists.tables.learn import LABELS, NUMBERS, Group, Moves, Point, part_of, same

#: More combinations than this are tried as a product of single factors. [-]
MOST_CELLS: Final = 150
#: And more than this are not asked at all. [-]
MOST_ASKED: Final = 3000
#: The verdicts another table may lean on, in the order of its cells.
VERDICTS: Final = ("", "pass", "caution", "not_enough_data", "block")
#: A combination nobody saw: the office is asked.
UNKNOWN: Final = "?"
#: Checks that hang on the verdict of others of the same circuit.
_LEANS_ON: Final[Mapping[str, tuple[str, ...]]] = {"/protection": ("/ampacity", "/terminals")}


class NoFit(Exception):
    """This check cannot be put into tables of this form."""


def tables_of(group: Group, key: str, moves: Moves) -> dict[str, Any]:
    """Return the tables of one check; raise NoFit when they cannot hold it."""
    cuts = _cuts(moves)
    out: dict[str, Any] = {} if cuts is None else {"cuts": cuts}
    for part in LABELS:
        out[part] = _labels(group, key, part, moves, cuts)
    for part in NUMBERS:
        out[part] = _number(group, key, part, moves, cuts)
    return out


def _cuts(moves: Moves) -> dict[str, Any] | None:
    """Return where parts change along a line: at the same x everywhere, or at the same value of the check."""
    if not moves.breaks:
        return None
    if len(moves.breaks) > 1:
        raise NoFit("breaks along several lines")
    ((line, found),) = moves.breaks.items()
    most = max(len(ends) for ends in found)
    xs = _distinct([x for ends in found for x, _ in ends])
    if len(xs) <= most:
        return {"line": line, "at": xs, "by": "x"}
    values = [value for ends in found for _, value in ends]
    if None in values:
        raise NoFit("breaks wander")
    at = _distinct([value for value in values if value is not None])
    if len(at) > most:
        raise NoFit("breaks wander")
    return {"line": line, "at": at, "by": "value"}


def _distinct(numbers: Sequence[float]) -> list[float]:
    out: list[float] = []
    for number in sorted(numbers):
        if not out or not math.isclose(number, out[-1], rel_tol=1e-7, abs_tol=1e-12):
            out.append(number)
    return out


def _inside(group: Group, key: str, point: Point, cuts: Mapping[str, Any], segment: int) -> float | None:
    """Return a point inside one stretch between breaks, None when this cell never gets there."""
    number = cuts["line"]
    line, at = group.lines[number], list(cuts["at"])
    if cuts["by"] == "value":
        at = _xs_of_values(group, key, point, number, at)
    ends = [line.low, *at, line.high]
    low, high = max(ends[segment], line.low), min(ends[segment + 1], line.high)
    return (low + high) / 2 if low < high else None


def _xs_of_values(group: Group, key: str, point: Point, line: int, values: list[float]) -> list[float]:
    """Return where on a line a check reaches these values, at this setting of the switches."""
    low, high = group.lines[line].low, group.lines[line].high
    first, last = (part_of(group.answers(point.moved(line, x)).get(key), "value") for x in (low, high))
    if first is None or last is None or first == last:
        raise NoFit("a value that does not follow its line")
    return [low + (value - first) * (high - low) / (last - first) for value in values]


def _dims(moves: Moves, part: str, cuts: Mapping[str, Any] | None, group: Group) -> list[list[Any]]:
    """Return what one part is looked up by: switches, whether a line is reported, stretches of a line."""
    dims: list[list[Any]] = [["a", axis] for axis in sorted(moves.axes[part])]
    for line in sorted(moves.given[part]):
        is_cut = cuts is not None and cuts["line"] == line and part != "value"
        dims.append(["s" if is_cut else "g", line])
    return dims


def _size(group: Group, dim: Sequence[Any], cuts: Mapping[str, Any] | None) -> int:
    kind, number = dim
    if kind == "a":
        return len(group.axes[number].options)
    return 2 if kind == "g" or cuts is None else len(cuts["at"]) + 2


def _cells(
    group: Group, dims: Sequence[Sequence[Any]], cuts: Mapping[str, Any] | None
) -> Iterator[tuple[int, ...]]:
    return itertools.product(*(range(_size(group, dim, cuts)) for dim in dims))


def _point(
    group: Group,
    key: str,
    dims: Sequence[Sequence[Any]],
    cell: Sequence[int],
    cuts: Mapping[str, Any] | None,
) -> Point | None:
    """Return a point that stands for a cell; None for one that cannot come about."""
    point = group.base
    for (kind, number), option in zip(dims, cell, strict=True):
        if kind == "a":
            if group.axes[number].options[option] in group.axes[number].refused:
                return None
            point = point.turned(number, option)
    for (kind, number), option in zip(dims, cell, strict=True):
        if kind == "a" or not option:
            continue
        x: float | None = group.lines[number].grid()[2]
        if kind == "s" and cuts:
            x = _inside(group, key, point, cuts, option - 1)
            if x is None:
                return None
        point = point.moved(number, x)
    return point


def _labels(
    group: Group, key: str, part: str, moves: Moves, cuts: Mapping[str, Any] | None
) -> dict[str, Any] | str:
    dims = _dims(moves, part, cuts, group)
    if math.prod(_size(group, dim, cuts) for dim in dims) > MOST_CELLS:
        leaning = _leaning(group, key, part, dims, cuts)
        if leaning is not None:
            return leaning
    _refuse_too_many(group, dims, cuts)
    found: list[str] = []
    for cell in _cells(group, dims, cuts):
        point = _point(group, key, dims, cell, cuts)
        check = None if point is None else group.answers(point).get(key)
        found.append(str(part_of(check, part) or ""))
    return found[0] if not dims or len(set(found)) == 1 else {"dims": dims, "all": found}


def _leaning(
    group: Group, key: str, part: str, dims: Sequence[Sequence[Any]], cuts: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """Return a table that looks at the verdict of other checks in place of the switches behind them.

    Whether a single string needs a device hangs on whether its cable carries the string, not on the cable.
    None where there are no such checks, or where they do not tell everything.
    """
    end = f"/{key.rpartition('/')[2]}"
    others = [key.removesuffix(end) + other for other in _LEANS_ON.get(end, ())]
    behind = [dim for dim in dims if dim[0] == "a" and _is_cable(group, dim[1])]
    rest = [dim for dim in dims if dim not in behind]
    if not others or not behind:
        return None
    sizes = [_size(group, dim, cuts) for dim in rest]
    table = [UNKNOWN] * (math.prod(sizes) * len(VERDICTS) ** len(others))
    for cell in _cells(group, rest, cuts):
        for options in itertools.product(*(_some(group, axis) for _, axis in behind)):
            point = _point(group, key, [*rest, *behind], [*cell, *options], cuts)
            if point is None:
                continue
            answers = group.answers(point)
            seen = [verdict_place(answers.get(other)) for other in others]
            place = _place([*cell, *seen], [*sizes, *(len(VERDICTS) for _ in others)])
            label = str(part_of(answers.get(key), part) or "")
            if table[place] not in {UNKNOWN, label}:
                return None
            table[place] = label
    return {"dims": [*rest, *(["k", other] for other in others)], "all": table}


def _is_cable(group: Group, axis: int) -> bool:
    return group.axes[axis].names[0].endswith((".size", ".bundle_count"))


def _some(group: Group, axis: int) -> list[int]:
    """Return a few options of a switch, spread over all that are not refused."""
    switch = group.axes[axis]
    free = [n for n, option in enumerate(switch.options) if option not in switch.refused]
    return free[:: max(1, len(free) // 6)]


def verdict_place(check: sizing.Check | None) -> int:
    """Return the place of a verdict among those a table leans on."""
    return VERDICTS.index("" if check is None else str(check.verdict))


def _refuse_too_many(group: Group, dims: Sequence[Sequence[Any]], cuts: Mapping[str, Any] | None) -> None:
    count = math.prod(_size(group, dim, cuts) for dim in dims)
    if count > MOST_ASKED:
        raise NoFit(f"{count} combinations")


def _number(
    group: Group, key: str, part: str, moves: Moves, cuts: Mapping[str, Any] | None
) -> dict[str, Any] | float | None:
    lines = moves.along[part]
    if len(lines) > 1:
        raise NoFit(f"{part} follows {len(lines)} lines")
    line = next(iter(lines), None)
    dims = _dims(moves, part, cuts, group)
    count = math.prod(_size(group, dim, cuts) for dim in dims)
    if len(dims) > 1 and count > MOST_CELLS:
        table = _product(group, key, part, dims, cuts, line)
        if table is not None:
            return table
    _refuse_too_many(group, dims, cuts)
    cells = [_affine(group, key, part, dims, cell, cuts, line) for cell in _cells(group, dims, cuts)]
    if not dims:
        return cells[0][0]
    table = {"dims": dims, "a": [a for a, _ in cells]}
    if line is not None:
        table |= {"line": line, "b": [b for _, b in cells]}
    return table


def _affine(
    group: Group,
    key: str,
    part: str,
    dims: Sequence[Sequence[Any]],
    cell: Sequence[int],
    cuts: Mapping[str, Any] | None,
    line: int | None,
) -> tuple[float | None, float]:
    """Return ``a`` and ``b`` of one cell; ``b`` is 0 where the line is not reported."""
    point = _point(group, key, dims, cell, cuts)
    if point is None:
        return None, 0.0
    first = part_of(group.answers(point).get(key), part)
    if line is None or point.lines[line] is None or first is None:
        return first, 0.0
    other = point.moved(line, _far(group, key, cuts, point, line))
    second = part_of(group.answers(other).get(key), part)
    x1, x2 = group.xs(point)[line], group.xs(other)[line]
    if second is None or x1 is None or x2 is None or x1 == x2:
        return first, 0.0
    b = (second - first) / (x2 - x1)
    a = first - b * x1
    return (0.0 if abs(a) <= 1e-12 * abs(first) else a), b


def _far(group: Group, key: str, cuts: Mapping[str, Any] | None, point: Point, line: int) -> float:
    """Return another point of the same stretch of a line."""
    x = point.lines[line] or 0.0
    if cuts is None or cuts["line"] != line:
        return group.lines[line].grid()[-2]
    at = list(cuts["at"])
    if cuts["by"] == "value":
        at = _xs_of_values(group, key, point, line, at)
    upper = next((end for end in (*at, group.lines[line].high) if end > x), group.lines[line].high)
    return x + (upper - x) * 0.8


def _product(
    group: Group,
    key: str,
    part: str,
    dims: Sequence[Sequence[Any]],
    cuts: Mapping[str, Any] | None,
    line: int | None,
) -> dict[str, Any] | None:
    """Return a table of factors that are multiplied, one per set of switches that act together.

    None where no such factors give the engine's number. A factor of None makes the number None.
    """
    if line is not None or any(kind != "a" for kind, _ in dims):
        return None
    sizes = [_size(group, dim, cuts) for dim in dims]

    def ask(cell: Sequence[int]) -> float | None:
        return _affine(group, key, part, dims, cell, cuts, None)[0]

    home = _home(group, key, part, dims, ask)
    if home is None:
        return None
    scale = ask(home)
    assert scale
    blocks = _blocks(sizes, home, scale, ask)
    if any(math.prod(sizes[place] for place in block) > MOST_ASKED for block in blocks):
        return None
    factors = []
    for block in blocks:
        row = []
        for options in itertools.product(*(range(sizes[place]) for place in block)):
            number = ask(_with(home, block, options))
            row.append(None if number is None else number / scale)
        factors.append({"dims": [dims[place] for place in block], "a": row})
    table = {"factors": factors, "scale": scale}
    return table if _holds(sizes, blocks, table, ask) else None


def _home(
    group: Group, key: str, part: str, dims: Sequence[Sequence[Any]], ask: Callable[[Sequence[int]], Any]
) -> list[int] | None:
    """Return a combination at which the number is known and not nothing."""
    for point in list(group.known):
        if part_of(group.answers(point).get(key), part):
            cell = [point.switches[number] for _, number in dims]
            if ask(cell):
                return cell
    return None


def _with(home: Sequence[int], places: Sequence[int], options: Sequence[int]) -> list[int]:
    cell = list(home)
    for place, option in zip(places, options, strict=True):
        cell[place] = option
    return cell


def _blocks(
    sizes: Sequence[int], home: Sequence[int], scale: float, ask: Callable[[Sequence[int]], float | None]
) -> list[list[int]]:
    """Return the switches in sets: two that do not simply multiply are in one set."""
    parent = list(range(len(sizes)))
    for one, other in itertools.combinations(range(len(sizes)), 2):
        pairs = list(itertools.product(range(sizes[one]), range(sizes[other])))
        for options in pairs[:: max(1, len(pairs) // 80)]:
            both = ask(_with(home, (one, other), options))
            first, second = ask(_with(home, (one,), options[:1])), ask(_with(home, (other,), options[1:]))
            apart = None if first is None or second is None else first * second / scale
            if not same(both, apart):
                parent = [parent[one] if root == parent[other] else root for root in parent]
                break
    roots = sorted(set(parent))
    return [[place for place, root in enumerate(parent) if root == wanted] for wanted in roots]


def _holds(
    sizes: Sequence[int],
    blocks: Sequence[Sequence[int]],
    table: Mapping[str, Any],
    ask: Callable[[Sequence[int]], float | None],
) -> bool:
    """Return whether the factors give the engine's number at combinations nobody asked yet."""
    for turn in range(24):
        cell = [(turn * (7 + 4 * place) + 3 * place + 1) % size for place, size in enumerate(sizes)]
        found = [
            factor["a"][_place([cell[place] for place in block], [sizes[place] for place in block])]
            for block, factor in zip(blocks, table["factors"], strict=True)
        ]
        product = None if None in found else table["scale"] * math.prod(found)
        if not same(ask(cell), product):
            return False
    return True


def _place(options: Sequence[int], sizes: Sequence[int]) -> int:
    place = 0
    for option, size in zip(options, sizes, strict=True):
        place = place * size + option
    return place
