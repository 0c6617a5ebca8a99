"""The usual values: by vehicle kind, by thing on the roof, by appliance, by way of traveling."""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import Any, Final

import sizing
from common import units as trade

DATA: Final = Path(__file__).resolve().parent.parent / "data"


@functools.cache
def _read(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))
    return found


def vehicle_usual(kind: str) -> dict[str, Any]:
    """Return the usual figures of a vehicle kind; empty for a kind without any."""
    return dict(_read("vehicle_defaults").get(kind, {}))


def obstacle_usual(kind: str, units: str = trade.METRIC) -> dict[str, Any]:
    """Return the usual size, clearance and advice for a thing on the roof; sizes may be None."""
    found = dict(_read("obstacle_defaults").get(kind, {}))
    return {
        name: trade.tidy(value, "m", units) if name.endswith("_m") and value is not None else value
        for name, value in found.items()
    }


def travel_usual(profile: str) -> dict[str, Any]:
    """Return the usual nights, driving and days without charging of a way of traveling."""
    return dict(_read("travel_profiles").get(profile, {}))


def load_rows() -> tuple[dict[str, Any], ...]:
    """Return every appliance of the starting table, in its order."""
    return tuple(_read("load_rows")["rows"])


def load_row(code: str) -> dict[str, Any] | None:
    """Return one appliance of the starting table."""
    return next((row for row in load_rows() if row["code"] == code), None)


def load_caution(name: str) -> str:
    """Return what must be said about an appliance that still carries its starting name."""
    return next((row.get("caution", "") for row in load_rows() if name in _spoken(row["name"])), "")


def _spoken(name: str) -> set[str]:
    """Return a name as shops of either kind read and store it."""
    return {sizing.in_units(name, units) for units in (trade.METRIC, trade.IMPERIAL)}


def starter_codes(kind: str, profile: str) -> tuple[str, ...]:
    """Return the appliances a vehicle of this kind, traveling this way, usually has."""
    table = _read("load_rows")
    change = table["profiles"].get(profile, {})
    if "only" in change:
        return tuple(change["only"])
    kept = [code for code in table["starters"].get(kind, ["phantom"]) if code not in change.get("drop", [])]
    return tuple(kept + [code for code in change.get("add", []) if code not in kept])
