"""Wires panels that were laid automatically: the best groupings the sizing rules let stand."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, Final

import sizing
from jobs.engine.scene import scene_json, shade_question
from jobs.engine.state import DesignState
from jobs.engine.string_options import unwired
from jobs.engine.system import system_input
from jobs.engine.years import string_rules
from jobs.roof.layout import design_layout
from jobs.roof.state import RoofPanel, RoofState
from jobs.roof.wires import Home, box_place, path_mm
from jobs.shop.refusals import Refusal
from jobs.workspace.edit import RoofEdit, SentString, layout_try

#: Leads that come with a panel bridge this much between the middles of neighbors; common practice. [m]
OWN_LEADS_M: Final = 1.8

Strings = list[dict[str, Any]]


def ways_to_wire(design: DesignState, edit: RoofEdit) -> list[Strings]:
    """Return ways to wire a layout held in memory, at least one: the best of each shape the rules may allow.

    The sizing face judges them with the wire they need; an empty way leaves all panels unwired.
    """
    labels = [one.label for one in design.roof.controllers]
    if not labels:
        return [[]]
    together = SentString(labels[0], tuple(panel.number for panel in edit.panels))
    tried = layout_try(design, replace(edit, strings=(together,)))
    try:
        found = _by_shape(tried, labels[0]) if len(labels) == 1 else []
        return found or [_planned(tried)]
    except (Refusal, sizing.InputOutOfRange):
        return [[]]


def _by_shape(design: DesignState, label: str) -> list[Strings]:
    """Return for each allowed length of string the grouping that gives most in the year of shade."""
    question = shade_question(design.roof, design.sun)
    lengths = [one["length"] for one in string_rules(design, question)[label]["allowed"]]
    scene = sizing.scene_from_json(scene_json(question))
    ways = []
    for length in lengths:
        limits = sizing.StringLimits(series_min=length, series_max=length)
        best = sizing.rank_wirings(scene, limits=limits, top=1).wirings[0]
        ways.append([_string(design.roof, label, [int(one) for one in string]) for string in best.strings])
    return ways


def _planned(design: DesignState) -> Strings:
    """Return the first plan of the sizing face: for several controllers, or where no equal strings stand."""
    plans = sizing.string_plans(unwired(system_input(design.roof, design.system))).plans
    if not plans:
        return []
    return [
        _string(design.roof, one.controller_id, [int(name) for name in one.panel_ids])
        for one in plans[0].strings
    ]


def _string(roof: RoofState, label: str, numbers: Sequence[int]) -> dict[str, Any]:
    """Return a string with its panels in the order in which a lead runs from one to the next."""
    middles = {panel.number: _middle(panel) for panel in roof.panels if panel.number in numbers}
    return {"controller": label, "panels": _in_order(middles), "fuse_a": None}


def _middle(panel: RoofPanel) -> tuple[float, float]:
    sheet = panel.model.sheet
    size = (sheet.width_m, sheet.length_m) if panel.is_turned else (sheet.length_m, sheet.width_m)
    return panel.x_m + size[0] / 2, panel.y_m + size[1] / 2


def _in_order(middles: Mapping[int, tuple[float, float]]) -> list[int]:
    """Return the panels from the rear on, each followed by the nearest that is left."""
    left = dict(middles)
    here = min(left, key=lambda number: left[number])
    order = [here]
    at = left.pop(here)
    while left:
        here = min(left, key=lambda number: _apart(at, left[number]))
        order.append(here)
        at = left.pop(here)
    return order


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return abs(one[0] - other[0]) + abs(one[1] - other[1])


def roof_leads_m(roof: RoofState) -> float | None:
    """Return about how much single wire the strings of a layout need on the roof [m]; None without a gland.

    From both ends of each string to the combiner, and two wires from there to the gland, where that way is
    drawn; else to the gland along the axes of the roof. And between neighbors whose own leads do not meet.
    """
    layout = design_layout(roof)
    if layout is None or layout.gland is None:
        return None
    gland = (layout.gland[0] / 1000, layout.gland[1] / 1000)
    drawn = {home.controller: home for home in layout.wires.homes}
    strings: dict[int, list[RoofPanel]] = {}
    for panel in roof.panels:
        if panel.string is not None:
            strings.setdefault(panel.string, []).append(panel)
    if not strings:
        return None
    used = {panels[0].controller for panels in strings.values()}
    ways = sum(2 * path_mm(drawn[label].points) / 1000 for label in used if label in drawn)
    return ways + sum(_leads_m(panels, gland, drawn) for panels in strings.values())


def _leads_m(panels: Iterable[RoofPanel], gland: tuple[float, float], drawn: Mapping[str, Home]) -> float:
    ordered = sorted(panels, key=lambda one: one.place)
    path = [_middle(panel) for panel in ordered]
    hops = (_apart(one, other) for one, other in pairwise(path))
    beyond = sum(max(0.0, hop - OWN_LEADS_M) for hop in hops)
    home = drawn.get(ordered[0].controller)
    if home is None:
        return _apart(path[0], gland) + _apart(path[-1], gland) + beyond
    ends = (box_place(ordered[0]), box_place(ordered[-1]))
    return sum(math.dist(end, home.combiner) for end in ends) / 1000 + beyond
