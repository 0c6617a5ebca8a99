"""Turns a design, its survey and what a person allows into the question of an automatic layout."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

import sizing
from jobs.autolayout.ways import ways_to_keep
from jobs.engine.scene import bare_question, own_names, placed_panel, scene_json, type_name
from jobs.engine.state import DesignState
from jobs.models import Obstacle
from jobs.parts.panel_model import PanelFacts, PanelModel
from jobs.parts.power_inputs import sheet_of
from jobs.roof.checks import PANEL_GAP_MM
from jobs.roof.feet import feet_needed
from jobs.roof.layout import Box, Layout, design_layout, survey_layout
from jobs.roof.state import SurveyedRoof
from jobs.shop.refusals import Refusal

#: How new panels stand, as when one is added by hand.
HEIGHT_M: Final = 0.05
FASTENERS: Final = 4
MOST_ON_ROOF: Final = 60
#: Steps of the places that are tried: one for the first look, then fine, coarser where many models are.
FIRST_GRID_M, FINE_GRID_M, MANY_GRID_M, MANY_MODELS = 0.15, 0.05, 0.1, 2


class LayoutSearchRefused(Refusal):
    """Layouts cannot be asked for so; says why."""


@dataclass(frozen=True, slots=True)
class LayoutOptions:
    """What a person allows: models, count, what a hole, a metre of wire and a kilogram weigh [kWh a year]."""

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
    """Return the roof with the panels that stay and every model that may be added."""
    stay = design.roof.panels if options.keep_placed else ()
    allowed = list(models)
    every = [*allowed, *(panel.model for panel in stay)]
    question = bare_question(design.roof, design.sun, every)
    stand_in = {"id": "0", "type": type_name(allowed[0]), "x": 0.0, "y": 0.0, "z": HEIGHT_M, "rot": 0}
    question["scene"]["panels"] = [placed_panel(panel) for panel in stay] or [stand_in]
    scene = sizing.scene_from_json(scene_json(question))
    return scene if stay else replace(scene, panels=())


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
        keep_outs=tuple(_keep_outs(layout)),
        clearance_m=_clearances(surveyed),
        ways=tuple(tuple(_area(box, "way") for box in way) for way in ways_to_keep(layout)),
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


def _clearances(surveyed: SurveyedRoof) -> dict[str, float]:
    """Return the clearance of each obstacle that stays; panels may cross a seam that asks for none."""
    obstacles = surveyed.staying
    return {
        name: -1.0 if obstacle.kind == Obstacle.Kind.SEAM and not obstacle.keep_out_m else obstacle.keep_out_m
        for obstacle, name in zip(obstacles, own_names(obstacles), strict=True)
    }


def _keep_outs(layout: Layout) -> Iterable[sizing.KeepOut]:
    """Yield what stays clear besides the obstacles themselves: the front, and where lids open."""
    roof = layout.roof
    if roof.front_clearance > roof.edge_clearance:
        front = Box(max(0.0, roof.length - roof.front_clearance), 0.0, roof.length, roof.width)
        yield _area(front, "front")
    for obstacle in layout.staying:
        if obstacle.sweep is not None:
            yield _area(obstacle.sweep, f"lid of {obstacle.name}")


def _area(box: Box, name: str) -> sizing.KeepOut:
    return sizing.KeepOut(box.x0 / 1000, box.y0 / 1000, box.x1 / 1000, box.y1 / 1000, name)
