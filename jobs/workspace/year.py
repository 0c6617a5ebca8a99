"""Answers the year of a layout while it is dragged: one panel moved costs the engine only that panel."""

from __future__ import annotations

import calendar
from typing import Any

import sizing
from jobs.engine.scene import scene_json, shade_question
from jobs.engine.state import DesignState
from jobs.shop.refusals import Refusal

_COMPASS = (
    "N",
    "NNE",
    "NE",
    "ENE",
    "E",
    "ESE",
    "SE",
    "SSE",
    "S",
    "SSW",
    "SW",
    "WSW",
    "W",
    "WNW",
    "NW",
    "NNW",
)


def live_energy(design: DesignState) -> dict[str, Any]:
    """Return year, loss, best and worst parking of a layout held in memory, or why they are not known."""
    try:
        question = shade_question(design.roof, design.sun)
        scene = sizing.scene_from_json(scene_json(question))
        year = sizing.live_year(scene)
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {"year": None, "year_reason": str(problem)}
    by_heading = year.kwh_by_heading
    best, worst = max(by_heading), min(by_heading)
    return {
        "year": {
            "mean_kwh": round(year.mean_kwh, 1),
            "loss_fraction": round(year.loss_fraction, 4),
            "best_kwh": round(best, 1),
            "best": compass(scene.headings_deg[by_heading.index(best)]),
            "worst_kwh": round(worst, 1),
            "worst": compass(scene.headings_deg[by_heading.index(worst)]),
            "place": question["place"]["name"],
            "is_wired": bool(question["scene"]["wirings"]),
            **_month(design, year.monthly_kwh),
        },
        "year_reason": "",
    }


def _month(design: DesignState, monthly_kwh: tuple[float, ...]) -> dict[str, Any]:
    """Return the daily harvest of the chosen month, else of the poorest one of the year."""
    chosen = design.sun.design_month
    month = chosen or 1 + monthly_kwh.index(min(monthly_kwh))
    days = calendar.monthrange(2023, month)[1]
    return {
        "month": calendar.month_name[month],
        "month_is_chosen": chosen is not None,
        "month_kwh_per_day": round(monthly_kwh[month - 1] / days, 2),
    }


def layout_detail(design: DesignState) -> dict[str, Any]:
    """Return each panel's loss, what each obstacle costs, and why: slower, for when nothing moves."""
    try:
        scene = sizing.scene_from_json(scene_json(shade_question(design.roof, design.sun)))
        year = sizing.shade_year(scene)
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {"panels": [], "obstacles": [], "findings": [], "reason": str(problem)}
    panels = [
        {
            "number": int(one.panel_id),
            "loss_fraction": round(_loss(one), 4),
        }
        for one in year.panels
    ]
    costs = sorted(year.obstructions, key=lambda one: -one.cost_kwh)
    return {
        "panels": panels,
        "obstacles": [
            {"name": one.name, "cost_kwh": round(one.cost_kwh, 1), "panels": list(one.panel_ids)}
            for one in costs
        ],
        "findings": [one.sentence for one in year.findings],
        "reason": "",
    }


def _loss(panel: Any) -> float:
    """Return the share a panel loses in its wiring; alone on a tracker where it is not wired."""
    wired: float | None = panel.delivered_loss_fraction
    alone: float = panel.own_loss_fraction
    return alone if wired is None else wired


def compass(heading_deg: float) -> str:
    """Return a direction as one of the sixteen points of the compass."""
    return _COMPASS[round(heading_deg / 22.5) % 16]
