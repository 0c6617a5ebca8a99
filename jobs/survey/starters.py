"""The rows a list usually begins with for a vehicle of this kind; every one of them is a guess."""

from __future__ import annotations

from typing import Any

import sizing
from jobs.models import ConfidenceChoice, Survey, Vehicle
from jobs.survey import defaults
from sizing import CircuitKind


def of_list(prefix: str, survey: Survey, vehicle: Vehicle) -> list[dict[str, Any]]:
    """Return the usual rows of a list that are not there yet; none for a list without usual rows."""
    if prefix == "loads":
        codes = defaults.starter_codes(vehicle.kind, survey.profile)
        units = survey.job.shop.units
        rows = [
            row | {"name": sizing.in_units(row["name"], units)}
            for row in map(defaults.load_row, codes)
            if row is not None
        ]
        return _without(rows, "name", [row.name for row in survey.loads.all()])
    if prefix == "wire_legs":
        return _without(_legs(vehicle), "circuit", [leg.circuit for leg in survey.wire_legs.all()])
    if prefix == "existing_items":
        known = [item.kind for item in survey.existing_items.all()] + survey.absent_kinds
        return _without(_equipment(vehicle), "kind", known)
    return []


def _without(rows: list[dict[str, Any]], name: str, known: list[str]) -> list[dict[str, Any]]:
    return [row for row in rows if row[name] not in known]


def _legs(vehicle: Vehicle) -> list[dict[str, Any]]:
    """Return one guessed leg for each circuit of a plain solar system (common practice, no source)."""
    usual = defaults.vehicle_usual(vehicle.kind)
    home_run_m = (usual["home_run_low_m"] + usual["home_run_high_m"]) / 2 if usual else 6.0
    legs = (
        (CircuitKind.HOME_RUN, "drop", home_run_m),
        (CircuitKind.CONTROLLER_TO_BUS, "cabinet", 1.5),
        (CircuitKind.BATTERY_TO_MAIN_FUSE, "cabinet", 0.15),
        (CircuitKind.BUS_TO_INVERTER, "cabinet", 1.5),
    )
    return [
        {"circuit": circuit, "place": place, "length_m": length_m, "confidence": ConfidenceChoice.GUESS}
        for circuit, place, length_m in legs
    ]


def _equipment(vehicle: Vehicle) -> list[dict[str, Any]]:
    """Return what most vehicles carry (common practice, no source)."""
    rows: list[dict[str, Any]] = [
        {"kind": "battery", "chemistry": "flooded", "voltage_v": 12, "capacity_ah": 100, "quantity": 2},
        {"kind": "converter", "rating_a": 45},
        {"kind": "shore", "rating_a": 30},
        {"kind": "dc_panel", "rating_a": 30, "spare_ways": 1},
        {"kind": "ac_panel", "spare_ways": 1, "has_gfci": True},
    ]
    if vehicle.is_towed:
        rows.append({"kind": "tow_wire", "wire_size": "12 AWG", "run_len_m": 11, "fuse_a": 30})
    elif vehicle.kind != Vehicle.Kind.TRUCK_CAMPER:
        is_smart = vehicle.year is not None and vehicle.year >= 2015
        rows.append({"kind": "alternator", "rating_a": 150, "is_smart": is_smart})
    return rows
