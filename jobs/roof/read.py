"""Reads the records of a roof as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Final

from jobs.models import (
    Design,
    DesignController,
    DesignPanel,
    DesignString,
    ExistingItem,
    Obstacle,
    Survey,
)
from jobs.parts.panel_model import PanelModel, panel_model
from jobs.roof.state import (
    Place,
    RoofController,
    RoofObstacle,
    RoofPanel,
    RoofState,
    RoofString,
    SurveyedRoof,
    UsedPanel,
)

_OBSTACLE_COLUMNS: Final = tuple(one.name for one in fields(RoofObstacle) if one.name not in {"pk", "key"})


def roof_state(design: Design) -> RoofState:
    """Return a design's roof as its records stand."""
    controllers = list(design.controllers.all())
    labels = {one.pk: one.label for one in controllers}
    return RoofState(
        design_id=design.pk,
        surveyed=surveyed_roof(design.job.survey),
        panels=_panels(design.panels.all()),
        strings=tuple(_string(one, labels[one.controller_id]) for one in design.strings.all()),
        controllers=tuple(controller_state(one) for one in controllers),
        slack_fraction=design.path_slack_fraction,
    )


def surveyed_roof(survey: Survey) -> SurveyedRoof:
    """Return the roof as surveyed."""
    return SurveyedRoof(
        survey_id=survey.pk,
        length_m=survey.roof_length_m,
        width_m=survey.roof_width_m,
        edge_radius_mm=survey.edge_radius_mm,
        edge_clearance_mm=survey.edge_clearance_mm,
        front_clearance_mm=survey.front_clearance_mm,
        walkway_width_mm=survey.walkway_width_mm,
        rafter_spacing_mm=survey.rafter_spacing_mm,
        rafter_first_mm=survey.rafter_first_mm,
        rafter_kind=survey.rafter_kind,
        gland=_place(survey.gland_x_m, survey.gland_y_m),
        obstacles=tuple(obstacle_state(one) for one in survey.obstacles.all()),
        is_known_bare="obstacle" in survey.absent_kinds,
    )


def obstacle_state(record: Obstacle) -> RoofObstacle:
    """Return an obstacle; its record may be one that is only typed so far."""
    columns = {name: getattr(record, name) for name in _OBSTACLE_COLUMNS}
    return RoofObstacle(pk=record.pk, key=str(record.key), **columns)


def _panels(records: Iterable[DesignPanel]) -> tuple[RoofPanel, ...]:
    models: dict[int, PanelModel] = {}
    return tuple(_panel(one, models) for one in records)


def _panel(record: DesignPanel, models: dict[int, PanelModel]) -> RoofPanel:
    string = record.string
    return RoofPanel(
        number=record.number,
        model=models.get(record.part_id) or models.setdefault(record.part_id, panel_model(record.part)),
        x_m=record.x_m,
        y_m=record.y_m,
        is_turned=record.is_turned,
        box_is_far=record.box_is_far,
        height_above_roof_m=record.height_above_roof_m,
        feet=record.feet,
        fasteners_per_foot=record.fasteners_per_foot,
        string=None if string is None else string.number,
        controller="" if string is None else string.controller.label,
        place=record.position_in_string,
        used=None if record.existing is None else used_panel(record.existing),
    )


def used_panel(item: ExistingItem) -> UsedPanel:
    """Return what the survey says of a panel that stays."""
    return UsedPanel(item.age_years, item.measured_isc_a, item.measured_at_w_m2)


def _string(record: DesignString, controller: str) -> RoofString:
    return RoofString(record.number, controller, record.fuse_a, _places(record.lead_bends_m))


def controller_state(record: DesignController) -> RoofController:
    """Return a controller with its place on the roof."""
    combiner = _place(record.combiner_x_m, record.combiner_y_m)
    return RoofController(record.label, record.part_id, combiner, _places(record.home_bends_m))


def _place(x_m: float | None, y_m: float | None) -> Place | None:
    return None if x_m is None or y_m is None else (x_m, y_m)


def _places(bends_m: Iterable[Sequence[float]]) -> tuple[Place, ...]:
    return tuple((x, y) for x, y in bends_m)
