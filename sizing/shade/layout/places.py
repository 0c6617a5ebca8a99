"""Where a panel may lie: on a grid, and wherever it touches an edge, a thing's clearance or a neighbor.

Lengths are counted in whole ticks of 10 nm, so that six panels of true size either fit between two edges or
do not; nothing is rounded to the step of the grid.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

from sizing.shade.scene.footprint import footprint, rectangle
from sizing.shade.scene.lay_rules import LayoutRules
from sizing.shade.scene.scene import PlacedPanel, SceneInput

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
TICKS_M: Final = 100_000_000.0  # ticks in a meter
TOUCH_M: Final = 1e-6  # places that only touch a rectangle do not share ground with it
SLACK_M: Final = 0.0002  # what is drawn may be this much too near on every side: drawing noise, not distance
FOOT_ZONE: Final = 0.35  # of a panel's length: where its first and last row of feet may stand
#: Ways to touch on one axis: those fewest neighbors away from what is touched come first.
MOST_LINES: Final = 160


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What of a roof is taken: one shape, and the boxes round its parts that a panel may touch [m]."""

    blocked: shapely.Geometry
    boxes: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Places (n,) of one type in one turn: smallest corner [ticks] and which of them a person drew."""

    corner: IntArray
    is_drawn: BoolArray


def ticks(length_m: float) -> int:
    """Return a length in ticks, the nearest."""
    return round(length_m * TICKS_M)


def ticks_up(length_m: float) -> int:
    """Return a length in ticks, never less than it is."""
    return int(np.ceil(length_m * TICKS_M - 0.01))


def ground_of(scene: SceneInput, rules: LayoutRules) -> Ground:
    """Return what no panel may enter: things with their room, areas kept clear, panels that stay."""
    shapes = []
    for thing in scene.obstructions:
        room = rules.clearance_m.get(thing.name, rules.obstruction_gap_m)
        if room >= 0.0:
            shapes.append(footprint(thing).buffer(room, quad_segs=32))
    shapes += [shapely.box(k.x0_m, k.y0_m, k.x1_m, k.y1_m) for k in rules.keep_outs]
    if rules.keep_placed:
        shapes += [rectangle(scene, panel).buffer(rules.gap_m, join_style="mitre") for panel in scene.panels]
    boxes = [one.bounds for one in shapes]
    boxes += [(k.x0_m, k.y0_m, k.x1_m, k.y1_m) for way in rules.ways for k in way]
    blocked = shapely.union_all(shapes) if shapes else shapely.Polygon()
    shapely.prepare(blocked)
    return Ground(blocked, tuple(dict.fromkeys(boxes)))


def free_places(
    scene: SceneInput,
    rules: LayoutRules,
    ground: Ground,
    size_m: tuple[float, float],
    drawn: Iterable[PlacedPanel],
) -> Places:
    """Return the free places of panels ``size_m`` (along, across): grid, touching, drawn; each once."""
    room = _room(scene, rules, size_m)
    made = np.array([[ticks(one.x_m), ticks(one.y_m)] for one in drawn], np.int64).reshape(-1, 2)
    made = made[_is_free(rules, ground, made, size_m, SLACK_M) & _fits(made, room, ticks(SLACK_M))]
    grid = _crossed([np.arange(low, high + 1, ticks(rules.grid_m)) for low, high in room])
    touching = _crossed([_touching(rules, ground, axis, size_m, room[axis]) for axis in (0, 1)])
    tried = np.unique(np.concatenate([grid, touching]), axis=0)
    tried = tried[_is_free(rules, ground, tried, size_m, TOUCH_M)]
    tried = tried[~(tried[:, None] == made[None]).all(axis=2).any(axis=1)]
    corner = np.concatenate([made, tried])
    return Places(corner, np.arange(len(corner)) < len(made))


def _room(
    scene: SceneInput, rules: LayoutRules, size_m: tuple[float, float]
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the least and greatest corner along and across [ticks]."""
    low = ticks(rules.edge_m)
    (x, y) = (
        (low, ticks(roof - rules.edge_m) - ticks_up(size))
        for roof, size in zip((scene.roof.len_x_m, scene.roof.len_y_m), size_m, strict=True)
    )
    return x, y


def _fits(corner: IntArray, room: tuple[tuple[int, int], tuple[int, int]], slack: int) -> BoolArray:
    low, high = np.array(room).T
    return np.asarray(((corner >= low - slack) & (corner <= high + slack)).all(axis=1))


def _crossed(lines: Sequence[IntArray]) -> IntArray:
    x, y = np.meshgrid(*lines, indexing="ij")
    return np.column_stack([x.ravel(), y.ravel()]).astype(np.int64)


def _touching(
    rules: LayoutRules, ground: Ground, axis: int, size_m: tuple[float, float], room: tuple[int, int]
) -> IntArray:
    """Return where a panel touches something before it on one axis, or follows panels that do [ticks].

    Every layout can be pushed toward the rear and the right until each panel touches an edge, a thing or a
    panel that does ([1]_, "normal patterns"), so a count that fits at all fits among such places, round
    things and mixed models apart. From the far edge the same is tried backwards.

    References
    ----------
    .. [1] Herz (1972), Recursive computational procedure for two-dimensional stock cutting, IBM J. Res. Dev.
    """
    low, high = room
    hops = sorted({ticks_up(size + rules.gap_m) for size in size_m})
    near = _chained([low], hops, high)
    far = [low + high - one for one in _chained([low], hops, high)]
    beside = [ticks_up(box[axis + 2]) for box in ground.boxes] + _on_zones(rules, axis, size_m[axis])
    before = [ticks(box[axis]) - ticks_up(size_m[axis]) for box in ground.boxes]
    after = _chained(sorted({one for one in beside if low < one <= high}), hops, high)
    lines = dict.fromkeys([*near, *far, *after, *(one for one in before if low <= one <= high)])
    return np.array(sorted(list(lines)[:MOST_LINES]), np.int64)


def _chained(starts: Sequence[int], hops: Sequence[int], high: int) -> list[int]:
    """Return the starts, then what lies one hop further, then two, up to ``high``; each once."""
    found = dict.fromkeys(one for one in starts if one <= high)
    newest = list(found)
    while newest:
        further = dict.fromkeys(one + hop for one in newest for hop in hops if one + hop <= high)
        newest = [one for one in further if one not in found]
        found |= dict.fromkeys(newest)
    return list(found)


def _on_zones(rules: LayoutRules, axis: int, len_m: float) -> list[int]:
    """Return the least corners at which a rafter is in reach of either row of feet [ticks]."""
    if axis:
        return []
    zone = FOOT_ZONE * len_m
    return [ticks_up(rafter - back) for rafter in rules.rafters_x_m for back in (zone, len_m)]


def _is_free(
    rules: LayoutRules, ground: Ground, corner: IntArray, size_m: tuple[float, float], slack_m: float
) -> BoolArray:
    """Return which places enter nothing that is taken and find rafters."""
    low, high = corner / TICKS_M + slack_m, corner / TICKS_M + np.asarray(size_m) - slack_m
    rects = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    on_rafters = finds_rafters(corner[:, 0] / TICKS_M, size_m[0], rules.rafters_x_m)
    return np.asarray(~shapely.intersects(ground.blocked, rects) & on_rafters)


def finds_rafters(x_m: npt.ArrayLike, len_x_m: float, rafters_x_m: Sequence[float]) -> BoolArray:
    """Return which places have a rafter near each end to carry the feet; all where no rafter is known.

    Parameters
    ----------
    x_m : array_like (n,)
        Smallest corners along the roof. [m]
    len_x_m : float
        Length of the panels along the roof. [m]
    rafters_x_m : sequence of float
        Where the rafters lie. [m]

    Returns
    -------
    ndarray of bool (n,)
        A rafter within 0.35 of the length of either end. [-]

    Raises
    ------
    Nothing
        No place finds a rafter that is out of reach.

    References
    ----------
    .. [1] Where feet may stand under a panel: common practice, no source.
    """
    x_m = np.asarray(x_m, np.float64)
    if not rafters_x_m:
        return np.ones(len(x_m), np.bool_)
    rafters = np.asarray(rafters_x_m)[None, :]
    zone, touch = FOOT_ZONE * len_x_m, TOUCH_M
    start, end = x_m[:, None], x_m[:, None] + len_x_m
    rear = ((rafters >= start - touch) & (rafters <= start + zone + touch)).any(axis=1)
    return np.asarray(rear & ((rafters >= end - zone - touch) & (rafters <= end + touch)).any(axis=1))
