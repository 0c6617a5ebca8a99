"""Writes a roof as surveyed as JSON, for what was accepted, and reads it back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from jobs.roof.layout import Box, Layout, ObstacleShape, RoofShape, survey_layout
from jobs.roof.state import SurveyedRoof


def roof_to_json(surveyed: SurveyedRoof) -> dict[str, Any] | None:
    """Return the roof of a survey as JSON; None while it is not measured."""
    layout = survey_layout(surveyed)
    return None if layout is None else asdict(layout)


def roof_from_json(data: Mapping[str, Any] | None) -> Layout | None:
    """Return the roof that was kept; None where none was."""
    if not data:
        return None
    roof = data["roof"]
    gland = data["gland"]
    return Layout(
        roof=RoofShape(**{**roof, "rafters": tuple(roof["rafters"])}),
        panels=(),
        obstacles=tuple(_obstacle(obstacle) for obstacle in data["obstacles"]),
        gland=None if gland is None else (gland[0], gland[1]),
    )


def _obstacle(obstacle: Mapping[str, Any]) -> ObstacleShape:
    sweep = obstacle["sweep"]
    return ObstacleShape(
        **{**obstacle, "box": Box(**obstacle["box"]), "sweep": None if sweep is None else Box(**sweep)}
    )
