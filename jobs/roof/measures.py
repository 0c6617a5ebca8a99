"""What is measured out on a roof, as plain data: each thing's size and its distances from two edges.

Geometry is in millimeters for whoever draws it; every measure comes beside it in the shop's own words, so
that nobody converts a length twice. Feet are numbered as their fields are: the right side from the rear
forward, then the left side.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from common import units as trade
from jobs.roof.layout import Box, Layout, ObstacleShape, PanelShape

_Words = Callable[[float], str]


def roof_measures(layout: Layout, shop_units: str) -> dict[str, Any]:
    """Return the measures of a roof and of all that lies on it."""
    long, short = partial(_long, shop_units), partial(_short, shop_units)
    roof = layout.roof
    return {
        "length_mm": roof.length,
        "width_mm": roof.width,
        "edge_radius_mm": roof.edge_radius,
        "size": f"{long(roof.length)} long, {long(roof.width)} wide",
        "rafters_mm": list(roof.rafters),
        "rafters": _rafter_words(layout, long, short),
        "panels": [_panel(panel, long, short) for panel in layout.panels],
        "things": [_thing(thing, long, short) for thing in layout.obstacles],
        "gland": None if layout.gland is None else _point(*layout.gland, long),
    }


def _long(units: str, value_mm: float) -> str:
    return trade.show(value_mm / 1000, "m", units)


def _short(units: str, value_mm: float) -> str:
    return trade.show(value_mm, "mm", units)


def _panel(panel: PanelShape, long: _Words, short: _Words) -> dict[str, Any]:
    wired = f"string {panel.string}, place {panel.place}" if panel.string else "in no string"
    return {
        "number": panel.number,
        "name": panel.name,
        "wired": wired,
        "height": f"underside {short(panel.underside)}, top {short(panel.top)} above the roof",
        "screws": panel.fasteners_per_foot,
        "feet": [_point(x, y, long) for x, y in panel.feet],
        **_box(panel.box, long, short),
    }


def _thing(thing: ObstacleShape, long: _Words, short: _Words) -> dict[str, Any]:
    return {
        "name": thing.name,
        "is_round": thing.is_round,
        "is_gone": thing.will_be_removed,
        "height": "to be removed" if thing.will_be_removed else f"{short(thing.height)} high",
        **_box(thing.box, long, short),
    }


def _box(box: Box, long: _Words, short: _Words) -> dict[str, Any]:
    return {
        "box_mm": [box.x0, box.y0, box.x1, box.y1],
        "size": f"{short(box.length)} × {short(box.width)}",
        "from_rear": long(box.x0),
        "from_right": long(box.y0),
    }


def _point(x: float, y: float, long: _Words) -> dict[str, Any]:
    return {"at_mm": [x, y], "from_rear": long(x), "from_right": long(y)}


def _rafter_words(layout: Layout, long: _Words, short: _Words) -> str:
    rafters = layout.roof.rafters
    if not rafters:
        return ""
    every = f" every {short(rafters[1] - rafters[0])}" if len(rafters) > 1 else ""
    found = "" if layout.roof.is_first_rafter_known else " (assumed: find it before drilling)"
    return f"Rafters{every}, the first {long(rafters[0])} from the rear edge{found}"
