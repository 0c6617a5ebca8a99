"""Ways to walk that an automatic layout leaves free: wide enough, clear of things, within reach of all.

The judge is the layout check itself, which erodes polygons with shapely and knows nothing of the grid that
is walked here; a person's reach and the width are common practice (no source).
"""

from __future__ import annotations

import pytest
import shapely
from shapely.ops import unary_union

from jobs.autolayout.ways import ways_to_keep
from jobs.models import Obstacle
from jobs.roof.checks import WALK_OVER, WALK_TO, WalkableArea, shape_of, widest_way
from jobs.roof.layout import Box, Layout, ObstacleShape, RoofShape

ROOF = RoofShape(length=7900, width=2200, edge_clearance=150, front_clearance=300, walkway_width=400)


def thing(kind, x0, y0, x1, y1):
    """Return a thing on the roof."""
    return ObstacleShape(
        key=kind, mark=kind, kind=kind, name=kind, box=Box(x0, y0, x1, y1), is_round=False, height=200,
        keep_out=100, sweep=None, will_be_removed=False,
    )  # fmt: skip


CROWDED = (
    thing(Obstacle.Kind.AIR_CONDITIONER, 3660, 730, 4730, 1470),
    thing(Obstacle.Kind.VENT, 750, 870, 1210, 1330),
    thing(Obstacle.Kind.VENT, 6950, 870, 7410, 1330),
    thing(Obstacle.Kind.FRIDGE_VENT, 550, 1850, 1110, 2050),
    thing(Obstacle.Kind.ANTENNA, 7000, 200, 7300, 700),
)
LADDER = thing(Obstacle.Kind.LADDER, 0, 200, 150, 700)


def layout(*things):
    """Return a roof with things and no panels."""
    return Layout(ROOF, (), things, None)


@pytest.mark.parametrize("things", [(*CROWDED, LADDER), CROWDED, CROWDED[:1], (CROWDED[1], LADDER)])
def test_whoever_fills_the_rest_of_the_roof_still_leaves_a_way(things):
    roof = layout(*things)
    ways = ways_to_keep(roof)
    assert ways
    ladders = [shape_of(one.box) for one in things if one.kind == Obstacle.Kind.LADDER]
    for way in ways:
        free = WalkableArea(unary_union([shape_of(box) for box in way]))
        for target in (one for one in things if one.kind in WALK_TO):
            assert widest_way(free, roof, ladders, shape_of(target.box)) == ROOF.walkway_width


def test_ways_keep_off_things_and_on_the_roof():
    roof = layout(*CROWDED, LADDER)
    taken = [shape_of(one.box) for one in CROWDED if one.kind not in WALK_OVER]
    for way in ways_to_keep(roof):
        for box in way:
            assert shapely.covers(shape_of(ROOF.box), shape_of(box))
            assert all(shape_of(box).intersection(other).area < 1 for other in taken)


def test_nobody_walks_where_nothing_needs_care_or_no_way_is_asked():
    assert ways_to_keep(layout(LADDER)) == ()
    narrow = RoofShape(length=7900, width=2200)
    assert ways_to_keep(Layout(narrow, (), (*CROWDED, LADDER), None)) == ()


def test_a_barred_roof_has_no_way():
    wall = thing(Obstacle.Kind.RACK, 200, 0, 300, 2200)
    assert ways_to_keep(layout(CROWDED[0], LADDER, wall)) == ()
