"""Knows how a design and its survey become a scene for the shade engine.

``shade_question`` only reads records: two questions can be compared on a page without waking the engine.
``scene_json`` completes one with cells and climate, in the shape ``python -m sizing shade`` reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, Final

import sizing
from jobs.models import Design, DesignController, DesignPanel, Obstacle, PanelSheet, Part, Survey, TravelStop
from jobs.parts.power_inputs import planned_absorb_v, sheet_of, single_diode
from jobs.shop.refusals import Refusal

#: Name of the wiring of the design itself.
AS_DESIGNED: Final = "as designed"
#: Nights of a month spent at a stop whose nights are not written down. [-]
NIGHTS_A_MONTH: Final = 30
#: Absorption volts taken while no bank is chosen, per 12 V; shop default. [V]
UNKNOWN_ABSORB_V: Final = 14.2
#: Battery voltage a PWM controller ties the panels to, per 12 V; common practice, no source. [V]
PWM_BUS_V: Final = 13.2
#: Loss of heat to air and wind of panels glued to the skin, so that a hot noon reads about 10 °C more than
#: over an air gap; common practice, no source. [W/m²K], [Ws/m³K]
GLUED_HEAT: Final = {"u0": 15.0, "u1": 3.5}
#: Hours of the clock a degree of longitude is worth. [h/°]
HOURS_PER_DEG: Final = 24 / 360
#: Rows of cells under one bypass diode where the sheet does not say; common practice, no source. [-]
ROWS_PER_DIODE: Final = 2

Question = dict[str, Any]


class ShadeNotAsked(Refusal):
    """The records do not say enough to ask the shade engine; says what is missing."""


def shade_question(design: Design, stop_key: Any = None, *, elsewhere: TravelStop | None = None) -> Question:
    """Return what the shade engine is asked about a design, as plain data; raise a Refusal if it cannot.

    ``elsewhere`` is a place that need not stand in the travel plan.
    """
    panels = list(design.panels.all())
    bare = bare_question(design, [panel.part for panel in panels], stop_key, elsewhere=elsewhere)
    controllers, strings = _controllers(design, panels)
    scene = bare["scene"] | {
        "panels": [placed_panel(panel) for panel in panels],
        "wirings": {AS_DESIGNED: {"controllers": controllers}} if controllers else {},
    }
    return bare | {"scene": scene, "strings": strings}


def bare_question(
    design: Design, parts: Iterable[Part], stop_key: Any = None, *, elsewhere: TravelStop | None = None
) -> Question:
    """Return the roof of a design without its panels, and the sheets of the panels that may lie on it."""
    survey, parts = design.job.survey, list(parts)
    if not survey.roof_length_m or not survey.roof_width_m:
        raise ShadeNotAsked("The roof's length and width are not in the survey yet.")
    if not parts:
        raise ShadeNotAsked("There is no panel on the roof yet.")
    stop = elsewhere or place_of(survey, stop_key)
    obstacles = [thing for thing in survey.obstacles.all() if not thing.will_be_removed]
    names = own_names(obstacles)
    return {
        "scene": {
            "name": f"{design.job.number}, revision {design.number}",
            "roof": {"length": survey.roof_length_m, "width": survey.roof_width_m},
            "location": _location(stop),
            "weather": {"model": "climate_grid", **(GLUED_HEAT if design.is_glued else {})},
            "panels": [],
            "obstructions": [_obstruction(thing, name) for thing, name in zip(obstacles, names, strict=True)],
            "wirings": {},
        },
        "sheets": {type_name(part): _sheet(part) for part in parts},
        "place": {"key": str(stop.key), "name": stop.place, "shade_habit": stop.shade_habit},
        "strings": {},
        "guesses": _guesses(design, parts, obstacles),
    }


def place_of(survey: Survey, stop_key: Any = None) -> TravelStop:
    """Return the chosen place, else where most nights are spent; raise ShadeNotAsked where there is none."""
    stops = list(survey.stops.all())
    if not stops:
        raise ShadeNotAsked("The travel plan in the survey names no place: sun and weather need one.")
    chosen = next((stop for stop in stops if stop_key and str(stop.key) == str(stop_key)), None)
    stop = chosen or max(stops, key=nights_at)
    if stop.longitude_deg is None:
        raise ShadeNotAsked(
            f"“{stop.place}” has no longitude in the travel plan: the climate table needs it."
        )
    return stop


def nights_at(stop: TravelStop) -> int:
    """Return the nights spent at a place: as written, else all of its months."""
    return stop.nights if stop.nights is not None else NIGHTS_A_MONTH * len(stop.months)


def _location(stop: TravelStop) -> dict[str, Any]:
    assert stop.longitude_deg is not None  # place_of refused it
    return {
        "lat": stop.latitude_deg,
        "lon": stop.longitude_deg,
        "utc_offset_h": round(stop.longitude_deg * HOURS_PER_DEG),
    }


def own_names(obstacles: Iterable[Obstacle]) -> list[str]:
    """Return a name of its own for each thing, as said within a sentence: "air conditioner", "vent 2"."""
    seen: dict[str, int] = {}
    names = []
    for thing in obstacles:
        words = str(thing)
        if words[1:2].islower():
            words = words[:1].lower() + words[1:]
        seen[words] = seen.get(words, 0) + 1
        names.append(words if seen[words] == 1 else f"{words} {seen[words]}")
    return names


def _obstruction(thing: Obstacle, name: str) -> dict[str, Any]:
    """Return a roof thing as box, cylinder or dome, closed and in its travel position."""
    middle = {
        "cx": round(thing.x_m + thing.length_m / 2, 4),
        "cy": round(thing.y_m + thing.width_m / 2, 4),
        "h": thing.height_m,
        "name": name,
    }
    if thing.is_round or thing.kind == Obstacle.Kind.DOME:
        kind = "dome" if thing.kind in {Obstacle.Kind.DOME, Obstacle.Kind.SKYLIGHT} else "cylinder"
        return {"kind": kind, "r": round((thing.length_m + thing.width_m) / 4, 4), **middle}
    return {"kind": "box", "lx": thing.length_m, "ly": thing.width_m, **middle}


def placed_panel(panel: DesignPanel) -> dict[str, Any]:
    """Return a panel; its cells lie at the top of the frame."""
    sheet = sheet_of(panel.part, "panel_sheet")
    return {
        "id": str(panel.number),
        "type": type_name(panel.part),
        "x": panel.x_m,
        "y": panel.y_m,
        "z": round(panel.height_above_roof_m + sheet.thickness_m, 4),
        "rot": 90 if panel.is_turned else 0,
    }


def type_name(part: Part) -> str:
    """Return the name of a panel's type in a scene: one catalogue part is one type."""
    return f"{part.name} ({part.sku})"


def _controllers(
    design: Design, panels: Iterable[DesignPanel]
) -> tuple[list[dict[str, Any]], dict[str, list[int]]]:
    """Return the wired controllers, and by label the numbers of their strings in the same order."""
    by_label: dict[str, dict[int, list[DesignPanel]]] = {}
    for panel in panels:
        if panel.string is not None:
            strings = by_label.setdefault(panel.string.controller.label, {})
            strings.setdefault(panel.string.number, []).append(panel)
    made, numbers = [], {}
    for controller in design.controllers.all():
        strings = dict(sorted(by_label.get(controller.label, {}).items()))
        if strings:
            made.append(
                {**controller_limits(design, controller), "strings": [_ids(one) for one in strings.values()]}
            )
            numbers[controller.label] = list(strings)
    return made, numbers


def _ids(panels: Iterable[DesignPanel]) -> list[str]:
    ordered = sorted(panels, key=lambda panel: (panel.position_in_string, panel.number))
    return [str(panel.number) for panel in ordered]


def controller_limits(design: Design, controller: DesignController) -> dict[str, Any]:
    """Return the window in which a controller works: the full battery's volts below, its own limit above."""
    sheet = sheet_of(controller.part, "controller_sheet")
    twelves = design.job.survey.v_nominal_v / 12.0
    if sheet.principle == sheet.Principle.PWM:
        return {"type": "pwm", "v_pwm": round(PWM_BUS_V * twelves, 3)}
    absorb_v = planned_absorb_v(design, controller.absorb_v) or UNKNOWN_ABSORB_V * twelves
    return {
        "type": "mppt",
        "v_min": round(absorb_v + sheet.run_margin_v, 3),
        "v_start": round(absorb_v + sheet.start_margin_v, 3),
        "v_max": sheet.pv_voltage_limit_v,
        "p_max": round(sheet.rated_output_a * absorb_v / sheet.efficiency_fraction, 1),
    }


_SHEET_FIELDS: Final = (
    "pmp_w", "vmp_v", "imp_a", "voc_v", "isc_a", "length_m", "width_m", "alpha_isc_percent_per_c",
    "cells_in_series", "cell_columns", "cell_rows", "bypass_diodes", "is_half_cut",
)  # fmt: skip


def _sheet(part: Part) -> dict[str, Any]:
    sheet = sheet_of(part, "panel_sheet")
    found = {"name": part.name, **{name: getattr(sheet, name) for name in _SHEET_FIELDS}}
    diode = single_diode(sheet)
    return found if diode is None else {**found, "single_diode": asdict(diode)}


def _guesses(design: Design, parts: Iterable[Part], obstacles: Iterable[Obstacle]) -> list[str]:
    """Return in words what the records do not say and the scene had to suppose."""
    found = [words for part in {part.pk: part for part in parts}.values() for words in _sheet_guesses(part)]
    found += [f"the size of {thing} is the usual one, not measured" for thing in obstacles if thing.is_guess]
    if planned_absorb_v(design, None) is None:
        found.append(f"no bank is chosen: {UNKNOWN_ABSORB_V:.1f} V absorption for every 12 V")
    return found


def _sheet_guesses(part: Part) -> Iterable[str]:
    sheet: PanelSheet = sheet_of(part, "panel_sheet")
    if typed_grid(_sheet(part)) is None:
        is_blank = not sheet.cell_columns or not sheet.cell_rows
        why = "is not in the catalogue" if is_blank else "does not fit its count of cells in series"
        yield f"the cell grid of {part.name} {why}: taken from its shape"
    if sheet.bypass_diodes is None:
        yield f"the bypass diodes of {part.name} are not in the catalogue: one for every two rows of cells"
    elif sheet.cell_rows and sheet.bypass_diodes and sheet.cell_rows % sheet.bypass_diodes:
        yield f"the {sheet.bypass_diodes} bypass diodes of {part.name} do not divide its rows of cells evenly"


def typed_grid(sheet: Mapping[str, Any]) -> tuple[int, int] | None:
    """Return columns and rows of cells as typed; None where blank or at odds with the cells in series."""
    columns, rows = sheet["cell_columns"], sheet["cell_rows"]
    halves = 2 if sheet["is_half_cut"] else 1
    if not columns or not rows or columns % halves:
        return None
    in_series = sheet["cells_in_series"]
    return (columns, rows) if in_series in {None, columns * rows // halves} else None


def scene_json(question: Question) -> dict[str, Any]:
    """Return the whole scene: the question with the cells of its panels and the height of its place.

    Raise ShadeNotAsked where the climate table has no value, sizing.SceneError for a panel that cannot be.
    """
    scene = dict(question["scene"])
    climate = _climate(question)
    scene["location"] = {**scene["location"], "altitude_m": round(climate.elevation_m, 1)}
    scene["panel_types"] = {name: _panel_type(sheet) for name, sheet in question["sheets"].items()}
    return scene


def weather_words(question: Question) -> dict[str, str]:
    """Return where the weather of a question comes from and how sure it is."""
    climate = _climate(question)
    return {"source": climate.source, "quality": climate.quality}


def _climate(question: Question) -> sizing.ClimatePoint:
    where = question["scene"]["location"]
    climate = sizing.climate_at(where["lat"], where["lon"])
    if climate is None:
        raise ShadeNotAsked(
            f"“{question['place']['name']}” lies outside the climate table (open sea or polar)."
        )
    return climate


def _panel_type(sheet: Mapping[str, Any]) -> dict[str, Any]:
    """Return a panel's cells: the typed grid where there is one, else the engine's guess from its shape."""
    grid = typed_grid(sheet)
    halves = 2 if sheet["is_half_cut"] else 1
    made = sizing.panel_type_json(
        sizing.PanelSpec(
            name=sheet["name"],
            pmp_w=sheet["pmp_w"],
            vmp_v=sheet["vmp_v"],
            imp_a=sheet["imp_a"],
            voc_v=sheet["voc_v"],
            isc_a=sheet["isc_a"],
            length_m=sheet["length_m"],
            width_m=sheet["width_m"],
            thickness_m=0.0,
            mass_kg=0.0,
            beta_voc_fraction_per_c=None,
            gamma_pmp_fraction_per_c=None,
            alpha_isc_fraction_per_c=sheet["alpha_isc_percent_per_c"] / 100,
            cells_in_series=sheet["cells_in_series"] if grid is None else grid[0] * grid[1] // halves,
            is_half_cut=sheet["is_half_cut"],
            single_diode=sizing.SingleDiode(**sheet["single_diode"]) if "single_diode" in sheet else None,
        )
    )
    if grid is not None:
        made["nx"], made["ny"] = grid
    made["n_bypass"] = _diodes(sheet["bypass_diodes"], made["ny"])
    return made


def _diodes(typed: int | None, rows: int) -> int:
    """Return how many diodes share the rows evenly: as typed, or the next fewer that can; 0 means none."""
    if typed == 0:
        return 0
    wanted = max(1, rows // ROWS_PER_DIODE) if typed is None else typed
    return next(count for count in range(min(wanted, rows), 0, -1) if rows % count == 0)
