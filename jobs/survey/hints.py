"""What to suggest beside a field: what is usual for this kind of vehicle and way of traveling."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import Any

import sizing
from common import units as trade
from jobs.models import Survey, Vehicle
from jobs.survey import defaults
from jobs.survey.facts import Part

#: Colder than most storage of the continent; hotter than most travel (shop defaults, no source). [°C]
USUAL_TMIN_C, USUAL_TMAX_C = -20.0, 42.0


@dataclass(frozen=True)
class Hint:
    """A suggestion: words, and the value to put into a blank field (None: words only)."""

    text: str
    value: Any = None


def of_part(part: Part, survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    """Return the suggestions for a page, by fact."""
    makers = {"roof": _roof, "equipment": _equipment, "weight": _weight, "travel": _travel, "site": _site}
    maker = makers.get(part.slug)
    kinds = {fact.name: fact.unit for fact in part.facts}
    found = maker(survey, vehicle, units) if maker else {}
    return {name: _tidied(hint, kinds.get(name) or "", units) for name, hint in found.items()}


def _tidied(hint: Hint, unit: str, units: str) -> Hint:
    is_number = isinstance(hint.value, float) and not isinstance(hint.value, bool)
    return replace(hint, value=trade.tidy(hint.value, unit, units)) if is_number else hint


def _between(low: float, high: float, unit: str, units: str, vehicle: Vehicle) -> str:
    text = f"{trade.show(low, unit, units)} to {trade.show(high, unit, units)}"
    return f"Usual for this kind ({vehicle.get_kind_display()}): {text}"


def _roof(survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    out = {
        "deck_thickness_mm": Hint("", 9.5),
        "rafter_spacing_mm": Hint("", 406.0),
        "roof_depth_mm": Hint("", 75.0),
        "max_person_kg": Hint("", 113.0),
    }
    usual = defaults.vehicle_usual(vehicle.kind)
    if not usual:
        return out
    if vehicle.length_m:
        out["roof_length_m"] = Hint(f"Outside length: {trade.show(vehicle.length_m, 'm', units)}")
    low, high = usual["roof_width_low_m"], usual["roof_width_high_m"]
    out["roof_width_m"] = Hint(_between(low, high, "m", units, vehicle), (low + high) / 2)
    low, high = usual["crown_low_mm"], usual["crown_high_mm"]
    out["crown_mm"] = Hint(_between(low, high, "mm", units, vehicle), (low + high) / 2)
    names = [str(Survey.Material(material).label) for material in usual["usual_materials"]]
    out["material"] = Hint(f"Usual for this kind: {', '.join(names)}")
    return out


def _equipment(survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    known = [t for t in (survey.tmin_travel_c, survey.tmin_storage_c) if t is not None]
    coldest = min(known, default=None)
    text = "" if coldest is None else f"Coldest air of this survey: {trade.show(coldest, '°C', units)}"
    return {"battery_tmin_c": Hint(text, coldest)}


def _weight(survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    usual = defaults.vehicle_usual(vehicle.kind)
    if not usual:
        return {}
    low, high = usual["cargo_low_kg"], usual["cargo_high_kg"]
    start = f"Usual cargo left on this kind ({vehicle.get_kind_display()})"
    if high is None:
        return {"cargo_label_kg": Hint(f"{start}: {trade.show(low, 'kg', units)} and more")}
    text = f"{start}: {trade.show(low, 'kg', units)} to {trade.show(high, 'kg', units)}"
    return {"cargo_label_kg": Hint(text)}


def _travel(survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    usual = defaults.travel_usual(survey.profile)
    out = {"tmin_travel_c": Hint("", USUAL_TMIN_C), **_climate(survey, units)}
    if not usual:
        return out
    days = usual["autonomy_days"]
    out["profile"] = Hint(
        f"Usual: {usual['nights_per_year']} nights a year, {usual['days_off_grid']} days off the grid "
        f"in a row, {usual['driving_h']} h driving a day, "
        f"shore power {usual['shore_fraction']:.0%} of nights. {usual['note']}"
    )
    if days is not None:
        out["autonomy_days"] = Hint(f"Usual for this way of traveling: {days:g}", days)
    out["design_month"] = Hint(f"Usual: {usual['design_text']}", usual["design_month"])
    return out


def _climate(survey: Survey, units: str) -> dict[str, Hint]:
    """Return what the climate grid says about the places, should the vehicle be stored at one of them."""
    points = []
    for stop in survey.stops.all():
        if stop.longitude_deg is not None:
            point = sizing.climate_at(stop.latitude_deg, stop.longitude_deg)
            points += [(point, stop.place)] if point is not None else []
    if not points:
        return {"tmin_storage_c": Hint("", USUAL_TMIN_C), "tmax_c": Hint("", USUAL_TMAX_C)}
    cold, cold_place = min(points, key=lambda pair: pair[0].mean_yearly_lowest_c)
    hot, hot_place = max(points, key=lambda pair: pair[0].highest_c)
    lowest, highest = cold.mean_yearly_lowest_c, hot.highest_c
    coldest = (
        f"If stored at {cold_place}: about {_degrees(lowest, units)} in a usual winter, "
        f"{_degrees(cold.lowest_20_years_c, units)} once in 20 years (climate grid, ±‹5 °C|9 °F›)"
    )
    hottest = f"{hot_place}: up to {_degrees(highest, units)} (climate grid)"
    return {
        "tmin_storage_c": Hint(coldest, float(min(USUAL_TMIN_C, math.floor(lowest)))),
        "tmax_c": Hint(hottest, float(max(USUAL_TMAX_C, math.ceil(highest)))),
    }


def _degrees(temp_c: float, units: str) -> str:
    return trade.show(temp_c, "°C", units, digits=0)


def _site(survey: Survey, vehicle: Vehicle, units: str) -> dict[str, Hint]:
    return {
        "site_slope_fraction": Hint("", 0.02),
        "site_power_a": Hint("", 15.0),
        "site_is_sheltered": Hint("", False),
        "work_from_time": Hint("Usual: 08:00", dt.time(8)),
        "work_to_time": Hint("Usual: 18:00", dt.time(18)),
    }
