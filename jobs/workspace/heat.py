"""Answers the yearly beam every cell of a layout loses, as the drawing shows it and in words."""

from __future__ import annotations

from typing import Any

import sizing
from jobs.engine.scene import scene_json, shade_question
from jobs.engine.state import DesignState
from jobs.shop.refusals import Refusal


def heat_answer(design: DesignState) -> dict[str, Any]:
    """Return by panel the beam each cell loses in a year, in tenths of a percent; why not where it cannot be.

    Cells come row by row from the right of the vehicle, in a row from the rear.
    """
    try:
        question = shade_question(design.roof, design.sun)
        scene = sizing.scene_from_json(scene_json(question))
        found = sizing.beam_lost_map(scene)
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {"panels": [], "poorest": None, "reason": str(problem)}
    margins = {panel.id: scene.panel_type(panel).margin_m for panel in scene.panels}
    return {
        "place": question["place"]["name"],
        "panels": [
            {
                "number": int(one.panel_id),
                "columns": one.columns,
                "margin_mm": round(1000 * margins[one.panel_id], 1),
                "lost": [round(1000 * share) for share in one.beam_lost_fraction],
            }
            for one in found.panels
        ],
        "poorest": _poorest(found),
        "reason": "",
    }


def _poorest(found: sizing.BeamMap) -> dict[str, Any] | None:
    """Return the cell that loses most; None where none loses a tenth of a percent."""
    panel = max(found.panels, key=lambda one: max(one.beam_lost_fraction))
    share = max(panel.beam_lost_fraction)
    if share < 0.001:
        return None
    spot = panel.beam_lost_fraction.index(share)
    return {
        "panel": int(panel.panel_id),
        "row": 1 + spot // panel.columns,
        "column": 1 + spot % panel.columns,
        "lost": round(1000 * share),
    }
