"""Works out between which limits a reading is believed: from the design where it knows the number.

A value outside is asked again with the reading card and keeps its hold shut; nothing here judges a design.
The limits of a cell are wide on purpose: they catch the slip (1.0 V, 45 V for 4.5 V), not the tired battery.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import sizing

#: Volts of one cell at rest, and in use from empty to full charge; from memory of makers' data, wide. [V]
REST_CELL_V: Final = {"lfp": (3.0, 3.6), "lead": (1.95, 2.2)}
USE_CELL_V: Final = {"lfp": (2.9, 3.65), "lead": (1.75, 2.5)}
#: Where an inverter may be set to cut off, by cell; common practice, no source. [V]
CUTOFF_CELL_V: Final = {"lfp": (2.5, 3.2), "lead": (1.67, 2.0)}
#: A cell by name, and the cells that every 12 V of a name stand for: "48 V" of lithium are 16 cells, 51.2 V.
_NOMINAL_CELL_V: Final = {"lfp": 3.2, "lead": 2.1}
_CELLS_PER_12V: Final = {"lfp": 4, "lead": 6}
#: A battery holds against the lesser of these: 33 CFR 183.420 for boats, 90 lbf and twice its weight. [N]
TIE_DOWN_N: Final = 400.0
G_M_S2: Final = 9.80665
#: A string in daylight shows at least this share of its open-circuit voltage at test conditions; from memory
#: of the logarithm of sun: 0.85 at a twentieth of the sun, less a hot cell. [-]
DAYLIGHT_FRACTION: Final = 0.7
#: Open-circuit volts of a panel without a sheet: a small 12 V panel to a large house panel on a cold day;
#: from memory of makers' data, wide. [V]
PANEL_V: Final = (17.0, 65.0)
#: A charger may read this much over its rating: the meter, and rounding of the rating. [-]
OVER_RATING: Final = 1.1
#: The load of a test is the biggest aboard, where it is listed; else a quarter of the inverter, and up to
#: a little over its rating; common practice, no source. [-]
LOAD_FRACTION: Final = (0.25, 1.15)
#: A load that warms a joint at all where no inverter is aboard; common practice, no source. [W]
LEAST_LOAD_W: Final = 60.0


def bands(system: sizing.SystemInput, result: sizing.SystemResult) -> dict[str, Any]:
    """Return the limits that belong to the whole job."""
    low, high = _system_volts(system, USE_CELL_V)
    cutoff_low, cutoff_high = _system_volts(system, CUTOFF_CELL_V)
    return {
        "bank_low_v": low,
        "bank_high_v": high,
        "cutoff_low_v": cutoff_low,
        "cutoff_high_v": cutoff_high,
        "tie_down_n": _tie_down_n(system.bank),
        "charge_limit_a": _charge_limit_a(result),
        "shore_high_a": _shore_a(system),
    } | _load(system)


def battery_bands(bank: sizing.BankInput) -> dict[str, float]:
    """Return between which volts one battery rests."""
    low, high = _volts(str(bank.chemistry), bank.unit_nominal_v, REST_CELL_V)
    return {"rest_low_v": low, "rest_high_v": high}


def string_bands(
    string: sizing.StringInput, system: sizing.SystemInput, result: sizing.SystemResult
) -> dict[str, Any]:
    """Return what a string must show when its polarity is read, in any daylight."""
    panels = [placed.panel for placed in system.panels if placed.id in string.panel_ids]
    voc_v = sum(panel.voc_v for panel in panels)
    cold = next((row.voc_cold_v for row in result.controllers if row.id == string.controller_id), None)
    found: dict[str, Any] = {"fuse": "fitted" if string.fuse_a else "none"}
    if voc_v > 0 and all(panel.voc_v > 0 for panel in panels):
        found["polarity_low_v"] = round(DAYLIGHT_FRACTION * voc_v, 1)
        found["polarity_high_v"] = round(cold if cold else 1.25 * voc_v, 1)
    else:  # no data sheet: what so many panels can show at all
        low, high = PANEL_V
        found["polarity_low_v"] = round(DAYLIGHT_FRACTION * low * len(string.panel_ids), 1)
        found["polarity_high_v"] = round(high * len(string.panel_ids), 1)
    return found


def source_bands(system: sizing.SystemInput) -> Mapping[str, dict[str, float]]:
    """Return the most each charger may show, by its id."""
    return {one.id: {"high_a": round(OVER_RATING * one.output_a, 1)} for one in system.sources}


def _family(chemistry: str) -> str:
    return "lfp" if chemistry == sizing.Chemistry.LFP else "lead"


def _volts(chemistry: str, nominal_v: float, cells: Mapping[str, tuple[float, float]]) -> tuple[float, float]:
    """Return the two limits of so many cells in series as make up a nominal voltage."""
    family = _family(chemistry)
    by_name = round(nominal_v / 12) * _CELLS_PER_12V[family] if nominal_v % 12 == 0 else 0
    count = by_name or max(1, round(nominal_v / _NOMINAL_CELL_V[family]))
    low, high = cells[family]
    return round(low * count, 2), round(high * count, 2)


def _system_volts(
    system: sizing.SystemInput, cells: Mapping[str, tuple[float, float]]
) -> tuple[float, float]:
    """Return the limits for the bank; where nobody knows its kind, wide enough for all kinds."""
    if system.bank is not None:
        return _volts(str(system.bank.chemistry), system.v_nominal_v, cells)
    both = [_volts(kind, system.v_nominal_v, cells) for kind in (sizing.Chemistry.LFP, sizing.Chemistry.AGM)]
    return min(low for low, _ in both), max(high for _, high in both)


def _tie_down_n(bank: sizing.BankInput | None) -> float:
    if bank is None or not bank.unit_mass_kg:
        return TIE_DOWN_N
    return round(min(TIE_DOWN_N, 2 * bank.unit_mass_kg * G_M_S2), 0)


def _charge_limit_a(result: sizing.SystemResult) -> float | None:
    """Return what the bank takes from all sources at once, as the sums judged it."""
    return next((check.limit for check in result.checks if check.key == "bank/charge_sum"), None)


def _shore_a(system: sizing.SystemInput) -> float | None:
    """Return the most that shore power may charge with; None where no such charger is planned."""
    kinds = {sizing.SourceKind.CONVERTER, sizing.SourceKind.INVERTER_CHARGER}
    total = sum(one.output_a for one in system.sources if one.kind in kinds)
    return round(OVER_RATING * total, 1) if total else None


def _load(system: sizing.SystemInput) -> dict[str, float | None]:
    if system.inverter is None:
        return {"load_low_w": LEAST_LOAD_W, "load_high_w": None}
    low, high = (round(share * system.inverter.power_w, 0) for share in LOAD_FRACTION)
    biggest = max((row.power_w for row in system.loads if str(row.bus) == "ac"), default=low)
    return {"load_low_w": max(LEAST_LOAD_W, min(low, biggest)), "load_high_w": high}
