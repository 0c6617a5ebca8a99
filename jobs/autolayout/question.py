"""Turns a design, its survey and what a person allows into the question of an automatic layout."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from typing import Any, Final

import sizing
from jobs.autolayout.ways import leads_everywhere, ways_to_keep
from jobs.engine.scene import bare_question, own_names, placed_panel, scene_json, type_name
from jobs.engine.state import DesignState
from jobs.models import Obstacle
from jobs.parts.panel_model import PanelFacts, PanelModel
from jobs.parts.power_inputs import sheet_of
from jobs.roof.checks import PANEL_GAP_MM, gland_box
from jobs.roof.feet import feet_needed
from jobs.roof.layout import Box, Layout, design_layout, survey_layout
from jobs.roof.state import RoofPanel, RoofState, SurveyedRoof
from jobs.roof.wires import wires_of
from jobs.shop.refusals import Refusal

#: How new panels stand, as when one is added by hand.
HEIGHT_M: Final = 0.05
FASTENERS: Final = 4
MOST_ON_ROOF: Final = 60
#: Room either side of a home run on the roof: cable, clips and sealant; common practice, no source. [mm]
LEADS_ROOM_MM: Final = 25.0
#: A slanting piece of a way is followed in at most so many boxes.
MOST_STEPS: Final = 12
#: Names of the areas that stay clear, as relaxing them is told.
FRONT, GLAND, LEADS, LID = "front", "gland", "leads", "lid of "
#: Steps of the places that are tried: one for the first look, then fine, coarser where many models are.
FIRST_GRID_M, FINE_GRID_M, MANY_GRID_M, MANY_MODELS = 0.15, 0.05, 0.1, 2


class LayoutSearchRefused(Refusal):
    """Layouts cannot be asked for so; says why."""


@dataclass(frozen=True, slots=True)
class LayoutOptions:
    """What a person allows: models, count, what a hole, a meter of wire and a kilogram weigh [kWh a year]."""

    parts: tuple[int, ...]
    panels_max: int | None = None
    one_model: bool = True
    keep_placed: bool = False
    on_rafters: bool = True
    hole_kwh: float = 0.0
    wire_kwh_m: float = 0.0
    mass_kwh_kg: float = 0.0

    def to_json(self) -> dict[str, Any]:
        """Return the options as plain values."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> LayoutOptions:
        """Return stored options."""
        return cls(**{**data, "parts": tuple(data["parts"])})


def grid_m(options: LayoutOptions) -> float:
    """Return the step of the places that are tried [m]."""
    return FINE_GRID_M if len(options.parts) <= MANY_MODELS else MANY_GRID_M


def layout_search_scene(
    design: DesignState, models: Iterable[PanelModel], options: LayoutOptions
) -> sizing.SceneInput:
    """Return the roof with every model that may be added, and panels: those that stay, or those drawn.

    Drawn ones of an allowed model are places to try as they lie.
    """
    allowed = list(models)
    stay = design.roof.panels if options.keep_placed else _drawn(design.roof, allowed)
    every = [*allowed, *(panel.model for panel in stay)]
    question = bare_question(design.roof, design.sun, every)
    stand_in = {"id": "0", "type": type_name(allowed[0]), "x": 0.0, "y": 0.0, "z": HEIGHT_M, "rot": 0}
    question["scene"]["panels"] = [placed_panel(panel) for panel in stay] or [stand_in]
    scene = sizing.scene_from_json(scene_json(question))
    return scene if stay else replace(scene, panels=())


def _drawn(roof: RoofState, allowed: Iterable[PanelModel]) -> tuple[RoofPanel, ...]:
    """Return the panels somebody laid on the roof, of models that may be used."""
    parts = {model.part_id for model in allowed}
    surveyed = roof.surveyed
    length, width = surveyed.length_m or 0.0, surveyed.width_m or 0.0
    return tuple(
        panel
        for panel in roof.panels
        if panel.model.part_id in parts and -1.0 < panel.x_m < length and -1.0 < panel.y_m < width
    )


def layout_search_rules(
    design: DesignState, models: Iterable[PanelModel], options: LayoutOptions, step_m: float
) -> sizing.LayoutRules:
    """Return clearances, ways and penalties of a search, from the survey and what was allowed."""
    surveyed = design.roof.surveyed
    layout = design_layout(design.roof) if options.keep_placed else survey_layout(surveyed)
    if layout is None:
        raise LayoutSearchRefused("The roof's length and width are not in the survey yet.")
    allowed = list(models)
    sheets: dict[str, PanelFacts] = {type_name(one): sheet_of(one, "panel_sheet") for one in allowed}
    staying = len(layout.panels)
    gland = surveyed.gland or (None, None)
    return sizing.LayoutRules(
        grid_m=step_m,
        edge_m=layout.roof.edge_clearance / 1000,
        gap_m=PANEL_GAP_MM / 1000,
        panel_z_m=HEIGHT_M + max(sheet.thickness_m for sheet in sheets.values()),
        type_names=tuple(sheets),
        keep_outs=(*_keep_outs(layout), *_wire_areas(design.roof, layout)),
        clearance_m=_clearances(surveyed),
        ways=tuple(tuple(_area(box, "way") for box in way) for way in _ways(design.roof, layout)),
        keep_placed=options.keep_placed,
        rafters_x_m=tuple(x / 1000 for x in layout.roof.rafters) if options.on_rafters else (),
        panels_max=min(options.panels_max or MOST_ON_ROOF, MOST_ON_ROOF - staying),
        holes={name: FASTENERS * feet_needed(one.length_m, one.width_m) for name, one in sheets.items()},
        hole_cost_kwh=options.hole_kwh,
        gland_x_m=gland[0],
        gland_y_m=gland[1],
        wire_cost_kwh_m=options.wire_kwh_m,
        mass_kg={type_name(one): one.mass_kg for one in allowed},
        mass_cost_kwh_kg=options.mass_kwh_kg,
        time_limit_s=3.0,
    )


def _ways(roof: RoofState, layout: Layout) -> tuple[tuple[Box, ...], ...]:
    """Return ways to walk, any one of which would do; one of them leads between the panels as drawn."""
    ways = ways_to_keep(layout)
    drawn = design_layout(roof) if roof.panels and not layout.panels else None
    between = [way for way in ways_to_keep(drawn) if leads_everywhere(way, drawn)] if ways and drawn else []
    return tuple(dict.fromkeys((*ways, *between[:1])))


def _wire_areas(roof: RoofState, layout: Layout) -> Iterable[sizing.KeepOut]:
    """Yield the gland with its sealant, and the drawn way of each home run to it."""
    box = gland_box(layout)
    if box is not None:
        yield _area(box.within(layout.roof.box), GLAND)
    for home in wires_of(roof).homes:
        for one, other in pairwise(home.points):
            yield from (_area(step.within(layout.roof.box), LEADS) for step in _strip(one, other))


def _strip(one: tuple[float, float], other: tuple[float, float]) -> Iterable[Box]:
    """Return a straight piece of a way as boxes: one along an axis of the roof, several across."""
    (x0, y0), (x1, y1) = one, other
    slant = min(abs(x1 - x0), abs(y1 - y0))
    count = max(1, min(MOST_STEPS, math.ceil(slant / LEADS_ROOM_MM)))
    for step in range(count):
        a, b = step / count, (step + 1) / count
        xs = sorted(x0 + (x1 - x0) * share for share in (a, b))
        ys = sorted(y0 + (y1 - y0) * share for share in (a, b))
        yield Box(xs[0], ys[0], xs[1], ys[1]).grown(LEADS_ROOM_MM)


def _clearances(surveyed: SurveyedRoof) -> dict[str, float]:
    """Return the clearance of each obstacle that stays; panels may cross a seam that asks for none."""
    obstacles = surveyed.staying
    return {
        name: -1.0 if obstacle.kind == Obstacle.Kind.SEAM and not obstacle.keep_out_m else obstacle.keep_out_m
        for obstacle, name in zip(obstacles, own_names(obstacles), strict=True)
    }


def _keep_outs(layout: Layout) -> Iterable[sizing.KeepOut]:
    """Yield what stays clear besides obstacles, gland and wire: the front, and where lids open."""
    roof = layout.roof
    if roof.front_clearance > roof.edge_clearance:
        front = Box(max(0.0, roof.length - roof.front_clearance), 0.0, roof.length, roof.width)
        yield _area(front, FRONT)
    for obstacle in layout.staying:
        if obstacle.sweep is not None:
            yield _area(obstacle.sweep, f"{LID}{obstacle.name}")


def _area(box: Box, name: str) -> sizing.KeepOut:
    return sizing.KeepOut(box.x0 / 1000, box.y0 / 1000, box.x1 / 1000, box.y1 / 1000, name)
