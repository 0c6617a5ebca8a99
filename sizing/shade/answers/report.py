"""The JSON that the command line prints: the yearly table and the answers beside it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sizing.shade.answers.check import ShadeCheck
from sizing.shade.scene.results import ShadeResult, WiringYearResult

DECIMALS = 5


def year_report(result: ShadeResult) -> dict[str, Any]:
    """Return headings, ranking, light losses and wirings, then panels, strings, objects and findings."""
    report = {
        "headings_deg": list(result.headings_deg),
        "ranking_by_mean": list(result.ranking),
        "panel_irradiation_loss_mean": {p.panel_id: p.light_loss_fraction for p in result.panels},
        "wirings": {wiring.name: _wiring(wiring) for wiring in result.wirings},
        "main_wiring": result.main_wiring,
        "own_trackers_kwh": result.own_trackers_kwh,
        "panels": {p.panel_id: _without(asdict(p), "panel_id") for p in result.panels},
        "strings": [asdict(string) for string in result.strings],
        "obstructions": [asdict(thing) for thing in result.obstructions],
        "findings": [asdict(finding) for finding in result.findings],
        "method": result.method,
        "engine_version": result.engine_version,
    }
    rounded: dict[str, Any] = tidy_numbers(report)
    return rounded


def check_report(check: ShadeCheck, headings_deg: tuple[float, ...]) -> dict[str, Any]:
    """Return the every-hour year in the same shape, with the grid's distance from it."""
    wirings = {}
    for wiring in check.wirings:
        worst = min(range(len(headings_deg)), key=lambda i: wiring.kwh_by_heading[i])
        wirings[wiring.name] = {
            "unshaded_kwh": wiring.unshaded_kwh,
            "kwh_by_heading": list(wiring.kwh_by_heading),
            "mean_kwh": wiring.mean_kwh,
            "worst_kwh": wiring.kwh_by_heading[worst],
            "worst_heading_deg": headings_deg[worst],
            "mean_loss": 1.0 - wiring.mean_kwh / wiring.unshaded_kwh if wiring.unshaded_kwh > 0 else 0.0,
            "grid_off_mean": wiring.mean_off_fraction,
            "grid_off_worst_heading": wiring.worst_heading_off_fraction,
        }
    report = {
        "headings_deg": list(headings_deg),
        "ranking_by_mean": list(check.ranking),
        "wirings": wirings,
        "method": "every hour",
    }
    rounded: dict[str, Any] = tidy_numbers(report)
    return rounded


def _wiring(wiring: WiringYearResult) -> dict[str, Any]:
    return {
        "unshaded_kwh": wiring.unshaded_kwh,
        "kwh_by_heading": list(wiring.kwh_by_heading),
        "mean_kwh": wiring.mean_kwh,
        "worst_kwh": wiring.worst_kwh,
        "worst_heading_deg": wiring.worst_heading_deg,
        "mean_loss": wiring.mean_loss_fraction,
        "best_kwh": wiring.best_kwh,
        "best_heading_deg": wiring.best_heading_deg,
        "monthly_kwh": list(wiring.monthly_kwh),
        "best_heading_by_month_deg": list(wiring.best_heading_by_month_deg),
        "controller_kwh": list(wiring.controller_kwh),
    }


def _without(facts: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if name != key}


def tidy_numbers(value: Any) -> Any:
    """Return JSON values with floats rounded for reading."""
    if isinstance(value, float):
        return round(value, DECIMALS)
    if isinstance(value, dict):
        return {key: tidy_numbers(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [tidy_numbers(inner) for inner in value]
    return value
