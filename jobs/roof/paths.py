"""Finds the way a person walks on a roof: from the ladder to each obstacle that needs looking after."""

from __future__ import annotations

import functools
import heapq
import math
from typing import Final

from jobs.models import Obstacle
from jobs.roof.layout import Box, Layout

#: Size of a square of the search; the drawing needs no finer one. [mm]
STEP_MM: Final = 75.0
#: A person beside an obstacle stands with the middle of the body this near to it. [mm]
BESIDE_MM: Final = 300.0
_SERVICED: Final = frozenset(
    {
        Obstacle.Kind.AIR_CONDITIONER,
        Obstacle.Kind.AIR_CONDITIONER_LOW,
        Obstacle.Kind.VENT,
        Obstacle.Kind.VENT_RAIN_COVER,
        Obstacle.Kind.ANTENNA,
    }
)
_WALK_OVER: Final = frozenset({Obstacle.Kind.LADDER, Obstacle.Kind.SEAM})
Point = tuple[float, float]
Cell = tuple[int, int]


@functools.lru_cache(maxsize=32)
def way_points(layout: Layout) -> tuple[tuple[Point, ...], ...]:
    """Return the ways to walk as lines of points [mm]; none where there is no ladder or nothing to reach."""
    ladders = [obstacle for obstacle in layout.staying if obstacle.kind == Obstacle.Kind.LADDER]
    targets = [obstacle for obstacle in layout.staying if obstacle.kind in _SERVICED]
    if not ladders or not targets or not layout.roof.walkway_width:
        return ()
    clearances = _clearances(layout)
    came_from, cost = _walk(clearances, _cell(ladders[0].box.middle), layout.roof.walkway_width / 2)
    ways = (_way(came_from, cost, target.box) for target in targets)
    return tuple(way for way in ways if len(way) > 1)


def _cell(point: Point) -> Cell:
    return int(point[0] // STEP_MM), int(point[1] // STEP_MM)


def _clearances(layout: Layout) -> dict[Cell, float]:
    """Return for every free square how far its middle is from the nearest obstacle or edge [mm]."""
    roof = layout.roof
    taken = [panel.box for panel in layout.panels]
    taken += [obstacle.box for obstacle in layout.staying if obstacle.kind not in _WALK_OVER]
    clearances: dict[Cell, float] = {}
    for column in range(int(roof.length // STEP_MM)):
        for row in range(int(roof.width // STEP_MM)):
            x, y = (column + 0.5) * STEP_MM, (row + 0.5) * STEP_MM
            nearest = min((_distance(box, x, y) for box in taken), default=math.inf)
            if nearest > 0:
                clearances[column, row] = min(nearest, x + 200, y, roof.length - x, roof.width - y)
    return clearances


def _distance(box: Box, x: float, y: float) -> float:
    return math.hypot(max(box.x0 - x, 0.0, x - box.x1), max(box.y0 - y, 0.0, y - box.y1))


def _walk(
    clearances: dict[Cell, float], start: Cell, half_mm: float
) -> tuple[dict[Cell, Cell], dict[Cell, float]]:
    """Return for each square the one before it on the easiest way, and its cost; tight squares are dear."""
    came_from, cost, queue = {start: start}, {start: 0.0}, [(0.0, start)]
    while queue:
        spent, here = heapq.heappop(queue)
        if spent > cost[here]:
            continue
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)):
            there = (here[0] + dx, here[1] + dy)
            if there not in clearances:
                continue
            tight = max(0.0, half_mm - clearances[there]) / half_mm
            price = spent + math.hypot(dx, dy) * (1.0 + 12.0 * tight)
            if price < cost.get(there, math.inf):
                came_from[there], cost[there] = here, price
                heapq.heappush(queue, (price, there))
    return came_from, cost


def _way(came_from: dict[Cell, Cell], cost: dict[Cell, float], target: Box) -> tuple[Point, ...]:
    """Return the way to the square beside a target that is easiest to get to, corners only."""
    beside = [cell for cell in cost if _distance(target, *_middle(cell)) <= BESIDE_MM]
    if not beside:
        return ()
    here = min(beside, key=lambda cell: cost[cell])
    cells = [here]
    while came_from[here] != here:
        here = came_from[here]
        cells.append(here)
    corners = [
        cell
        for before, cell, after in zip(cells, cells[1:], cells[2:], strict=False)
        if (cell[0] - before[0], cell[1] - before[1]) != (after[0] - cell[0], after[1] - cell[1])
    ]
    kept = [cells[0], *corners, *cells[-1:]]
    return tuple(_middle(cell) for cell in reversed(kept))


def _middle(cell: Cell) -> Point:
    return (cell[0] + 0.5) * STEP_MM, (cell[1] + 0.5) * STEP_MM
