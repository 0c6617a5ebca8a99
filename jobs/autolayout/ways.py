"""Finds strips of a roof that could stay free for a person to get from the ladder to what needs care.

Each way is a set of rectangles [mm] as wide as the walkway: the cheapest walk over a grid from the ladder (or
any edge, without one) to each obstacle, where one side of the roof is dearer than the other. Several such
sides are tried. The layout checks judge what comes of it; this only leads the search to layouts that can
pass.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable
from functools import lru_cache

from shapely.ops import unary_union

from jobs.models import Obstacle
from jobs.roof.checks import REACH_MM, WALK_OVER, WALK_TO, WalkableArea, shape_of, widest_way
from jobs.roof.layout import Box, Layout, ObstacleShape

#: Reach that is counted on, a little less than is judged. [mm]
SURE_REACH_MM = REACH_MM - 40.0
#: Step of the grid that is walked. [mm]
STEP_MM = 50.0
#: Where across the roof walking is cheapest, as a share of its width, one way for each. [-]
SIDES = (0.0, 0.25, 0.5, 0.75, 1.0)
#: How much dearer a step at the far side is. [-]
AWAY_COST = 6.0

Way = tuple[Box, ...]
Cell = tuple[int, int]


@lru_cache(maxsize=16)  # one search asks several times about the same roof
def ways_to_keep(layout: Layout) -> tuple[Way, ...]:
    """Return ways to walk, any one of which would do; none where nobody has to walk."""
    targets = [obstacle for obstacle in layout.staying if obstacle.kind in WALK_TO]
    if not layout.roof.walkway_width or not targets:
        return ()
    free, starts = _walkable(layout), _starts(layout)
    made = (_way(layout, free, starts & free, targets, side) for side in SIDES)
    return tuple(dict.fromkeys(way for way in made if way))


def leads_everywhere(way: Way, layout: Layout) -> bool:
    """Return whether a way alone lets a person get to all that needs care, as the layout check judges it."""
    walkable = WalkableArea(unary_union([shape_of(box) for box in way]))
    ladders = [shape_of(one.box) for one in layout.staying if one.kind == Obstacle.Kind.LADDER]
    wanted = layout.roof.walkway_width
    return all(
        widest_way(walkable, layout, ladders, shape_of(one.box, one.is_round)) >= wanted
        for one in layout.staying
        if one.kind in WALK_TO
    )


def _walkable(layout: Layout) -> frozenset[Cell]:
    """Return where the middle of a person may be: nothing that nobody steps over within half the width."""
    roof, half = layout.roof, layout.roof.walkway_width / 2
    taken = [obstacle.box.grown(half) for obstacle in layout.staying if obstacle.kind not in WALK_OVER]
    taken += [panel.box.grown(half) for panel in layout.panels]
    return frozenset(
        (column, row)
        for column in range(math.ceil(half / STEP_MM), int((roof.length - half) // STEP_MM) + 1)
        for row in range(math.ceil(half / STEP_MM), int((roof.width - half) // STEP_MM) + 1)
        if not any(_holds(box, column * STEP_MM, row * STEP_MM) for box in taken)
    )


def _holds(box: Box, x: float, y: float) -> bool:
    return box.x0 < x < box.x1 and box.y0 < y < box.y1


def _starts(layout: Layout) -> frozenset[Cell]:
    """Return where a walk may begin: at the ladder, or along every edge where there is none."""
    roof, half = layout.roof, layout.roof.walkway_width / 2
    ladder = next((obstacle for obstacle in layout.staying if obstacle.kind == Obstacle.Kind.LADDER), None)
    cells = ((c, r) for c in range(int(roof.length // STEP_MM)) for r in range(int(roof.width // STEP_MM)))
    if ladder is not None:
        return frozenset(cell for cell in cells if _away(ladder.box, cell) <= half)
    inner = Box(half, half, roof.length - half, roof.width - half).grown(-STEP_MM)
    return frozenset(cell for cell in cells if not _holds(inner, cell[0] * STEP_MM, cell[1] * STEP_MM))


def _away(box: Box, cell: Cell) -> float:
    x, y = cell[0] * STEP_MM, cell[1] * STEP_MM
    return math.hypot(max(box.x0 - x, 0.0, x - box.x1), max(box.y0 - y, 0.0, y - box.y1))


def _way(
    layout: Layout,
    free: frozenset[Cell],
    starts: frozenset[Cell],
    targets: Iterable[ObstacleShape],
    side: float,
) -> Way:
    """Return the strips to every target that can be reached, each going on from those before."""
    width, rows = layout.roof.walkway_width, layout.roof.width / STEP_MM
    walked: set[Cell] = set()
    boxes: list[Box] = []
    for obstacle in sorted(targets, key=lambda one: min((_away(one.box, s) for s in starts), default=0.0)):
        if any(_away(obstacle.box, cell) <= SURE_REACH_MM for cell in walked):
            continue
        path = _walk(free, starts | walked, obstacle.box, side * rows, AWAY_COST / rows)
        walked.update(path)
        boxes += _strips(path, width)
    return tuple(box.within(layout.roof.box) for box in boxes)


def _walk(
    free: frozenset[Cell], starts: Iterable[Cell], target: Box, cheap_row: float, dear: float
) -> list[Cell]:
    """Return the cheapest walk to within reach of a target; empty where none leads there."""
    queue = [(0.0, start, start) for start in starts]
    heapq.heapify(queue)
    came_from: dict[Cell, Cell] = {}
    while queue:
        spent, here, before = heapq.heappop(queue)
        if here in came_from:
            continue
        came_from[here] = before
        if _away(target, here) <= SURE_REACH_MM:
            return _back(came_from, here)
        for there in (
            (here[0] + 1, here[1]),
            (here[0] - 1, here[1]),
            (here[0], here[1] + 1),
            (here[0], here[1] - 1),
        ):
            if there in free and there not in came_from:
                heapq.heappush(queue, (spent + 1.0 + dear * abs(there[1] - cheap_row), there, here))
    return []


def _back(came_from: dict[Cell, Cell], here: Cell) -> list[Cell]:
    path = [here]
    while came_from[here] != here:
        here = came_from[here]
        path.append(here)
    return path[::-1]


def _strips(path: list[Cell], width: float) -> list[Box]:
    """Return a walk as rectangles, one for each straight piece."""
    half, strips, first = width / 2, [], 0
    for place in range(1, len(path)):
        is_last = place == len(path) - 1
        turns = not is_last and (path[place + 1][0] == path[place][0]) != (
            path[place][0] == path[place - 1][0]
        )
        if is_last or turns:
            (x0, x1), (y0, y1) = (sorted((path[first][i], path[place][i])) for i in (0, 1))
            strips.append(Box(x0 * STEP_MM, y0 * STEP_MM, x1 * STEP_MM, y1 * STEP_MM).grown(half))
            first = place
    if len(path) == 1:
        x, y = path[0][0] * STEP_MM, path[0][1] * STEP_MM
        strips.append(Box(x, y, x, y).grown(half))
    return strips
