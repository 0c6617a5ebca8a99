"""Turns a design and its survey into a scene for the shade engine.

``shade_question`` asks nobody: two questions can be compared on a page without waking the engine.
``scene_json`` completes one with cells and climate, in the shape ``python -m sizing shade`` reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

import sizing
from jobs.models import ControllerSheet, Design, DesignController, Obstacle, TravelStop
from jobs.parts.panel_model import PanelFacts, PanelModel
from jobs.parts.power_inputs import DesignIncomplete, planned_absorb_v, sheet_of, single_diode
from jobs.roof.state import RoofObstacle, RoofPanel, RoofState
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


@dataclass(frozen=True, slots=True)
class Stop:
    """A place the vehicle is parked at; blank longitude: not known. ``key`` is blank where it is no stop."""

    key: str
    place: str
    latitude_deg: float
    longitude_deg: float | None
    shade_habit: str = TravelStop.Shade.OPEN
    months: tuple[int, ...] = ()
    nights: int | None = None

    @property
    def nights_there(self) -> int:
        """Return the nights spent at the place: as written, else all of its months."""
        return self.nights if self.nights is not None else NIGHTS_A_MONTH * len(self.months)


@dataclass(frozen=True, slots=True)
class Window:
    """What a controller works within, as the engine reads it; else why that cannot be told."""

    limits: Mapping[str, Any] | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class SunBasis:
    """What the shade engine is told of a design beside its roof, read once."""

    name: str
    is_glued: bool
    stops: tuple[Stop, ...]
    windows: Mapping[str, Window]  # by the controllers' labels
    has_bank: bool  # so that its absorption volts are known
    design_month: int | None


def sun_basis(design: Design) -> SunBasis:
    """Return what the shade engine is told of a design beside its roof."""
    survey = design.job.survey
    return SunBasis(
        name=f"{design.job.number}, revision {design.number}",
        is_glued=design.is_glued,
        stops=tuple(_stop(one) for one in survey.stops.all()),
        windows={one.label: _window(design, one) for one in design.controllers.all()},
        has_bank=planned_absorb_v(design, None) is not None,
        design_month=survey.design_month,
    )


def _stop(record: TravelStop) -> Stop:
    return Stop(
        key=str(record.key),
        place=record.place,
        latitude_deg=record.latitude_deg,
        longitude_deg=record.longitude_deg,
        shade_habit=record.shade_habit,
        months=tuple(record.months),
        nights=record.nights,
    )


def _window(design: Design, controller: DesignController) -> Window:
    """Return the window in which a controller works: the full battery's volts below, its own limit above."""
    try:
        sheet: ControllerSheet = sheet_of(controller.part, "controller_sheet")
    except DesignIncomplete as problem:
        return Window(None, str(problem))
    twelves = design.job.survey.v_nominal_v / 12.0
    if sheet.principle == sheet.Principle.PWM:
        return Window({"type": "pwm", "v_pwm": round(PWM_BUS_V * twelves, 3)})
    absorb_v = planned_absorb_v(design, controller.absorb_v) or UNKNOWN_ABSORB_V * twelves
    return Window(
        {
            "type": "mppt",
            "v_min": round(absorb_v + sheet.run_margin_v, 3),
            "v_start": round(absorb_v + sheet.start_margin_v, 3),
            "v_max": sheet.pv_voltage_limit_v,
            "p_max": round(sheet.rated_output_a * absorb_v / sheet.efficiency_fraction, 1),
        }
    )


def shade_question(
    roof: RoofState, sun: SunBasis, stop_key: object = None, *, elsewhere: Stop | None = None
) -> Question:
    """Return what the shade engine is asked about a design, as plain data; raise a Refusal if it cannot.

    ``elsewhere`` is a place that need not stand in the travel plan.
    """
    models = [panel.model for panel in roof.panels]
    bare = bare_question(roof, sun, models, stop_key, elsewhere=elsewhere)
    controllers, strings = _controllers(roof, sun)
    scene = bare["scene"] | {
        "panels": [placed_panel(panel) for panel in roof.panels],
        "wirings": {AS_DESIGNED: {"controllers": controllers}} if controllers else {},
    }
    return bare | {"scene": scene, "strings": strings}


def bare_question(
    roof: RoofState,
    sun: SunBasis,
    models: Iterable[PanelModel],
    stop_key: object = None,
    *,
    elsewhere: Stop | None = None,
) -> Question:
    """Return the roof of a design without its panels, and the sheets of the panels that may lie on it."""
    surveyed, models = roof.surveyed, list(models)
    if not surveyed.length_m or not surveyed.width_m:
        raise ShadeNotAsked("The roof's length and width are not in the survey yet.")
    if not models:
        raise ShadeNotAsked("There is no panel on the roof yet.")
    stop = elsewhere or place_of(sun.stops, stop_key)
    obstacles = surveyed.staying
    named = zip(obstacles, own_names(obstacles), strict=True)
    return {
        "scene": {
            "name": sun.name,
            "roof": {"length": surveyed.length_m, "width": surveyed.width_m},
            "location": _location(stop),
            "weather": {"model": "climate_grid", **(GLUED_HEAT if sun.is_glued else {})},
            "panels": [],
            "obstructions": [_obstruction(obstacle, name) for obstacle, name in named],
            "wirings": {},
        },
        "sheets": {type_name(model): _sheet(model) for model in models},
        "place": {"key": stop.key, "name": stop.place, "shade_habit": stop.shade_habit},
        "strings": {},
        "guesses": _guesses(sun, models, obstacles),
    }


def place_of(stops: Iterable[Stop], stop_key: object = None) -> Stop:
    """Return the chosen place, else where most nights are spent; raise ShadeNotAsked where there is none."""
    stops = list(stops)
    if not stops:
        raise ShadeNotAsked("The travel plan in the survey names no place: sun and weather need one.")
    chosen = next((stop for stop in stops if stop_key and stop.key == str(stop_key)), None)
    stop = chosen or max(stops, key=lambda one: one.nights_there)
    if stop.longitude_deg is None:
        raise ShadeNotAsked(
            f"“{stop.place}” has no longitude in the travel plan: the climate table needs it."
        )
    return stop


def _location(stop: Stop) -> dict[str, Any]:
    assert stop.longitude_deg is not None  # place_of refused it
    return {
        "lat": stop.latitude_deg,
        "lon": stop.longitude_deg,
        "utc_offset_h": round(stop.longitude_deg * HOURS_PER_DEG),
    }


def own_names(obstacles: Iterable[RoofObstacle]) -> list[str]:
    """Return a name of its own for each obstacle, as it reads within a sentence: "vent", "vent 2"."""
    seen: dict[str, int] = {}
    names = []
    for obstacle in obstacles:
        words = obstacle.name
        if words[1:2].islower():
            words = words[:1].lower() + words[1:]
        seen[words] = seen.get(words, 0) + 1
        names.append(words if seen[words] == 1 else f"{words} {seen[words]}")
    return names


def _obstruction(obstacle: RoofObstacle, name: str) -> dict[str, Any]:
    """Return an obstacle as box, cylinder or dome, closed and in its travel position."""
    middle = {
        "cx": round(obstacle.x_m + obstacle.length_m / 2, 4),
        "cy": round(obstacle.y_m + obstacle.width_m / 2, 4),
        "h": obstacle.height_m,
        "name": name,
    }
    if obstacle.is_round or obstacle.kind == Obstacle.Kind.DOME:
        kind = "dome" if obstacle.kind in {Obstacle.Kind.DOME, Obstacle.Kind.SKYLIGHT} else "cylinder"
        return {"kind": kind, "r": round((obstacle.length_m + obstacle.width_m) / 4, 4), **middle}
    return {"kind": "box", "lx": obstacle.length_m, "ly": obstacle.width_m, **middle}


def placed_panel(panel: RoofPanel) -> dict[str, Any]:
    """Return a panel; its cells lie at the top of the frame."""
    sheet: PanelFacts = sheet_of(panel.model, "panel_sheet")
    return {
        "id": str(panel.number),
        "type": type_name(panel.model),
        "x": panel.x_m,
        "y": panel.y_m,
        "z": round(panel.height_above_roof_m + sheet.thickness_m, 4),
        "rot": 90 if panel.is_turned else 0,
    }


def type_name(model: PanelModel) -> str:
    """Return the name of a panel's type in a scene: one catalog part is one type."""
    return f"{model.name} ({model.sku})"


def _controllers(roof: RoofState, sun: SunBasis) -> tuple[list[dict[str, Any]], dict[str, list[int]]]:
    """Return the wired controllers, and by label the numbers of their strings in the same order."""
    by_label: dict[str, set[int]] = {}
    for panel in roof.panels:
        if panel.string is not None:
            by_label.setdefault(panel.controller, set()).add(panel.string)
    made, numbers = [], {}
    for controller in roof.controllers:
        strings = sorted(by_label.get(controller.label, ()))
        if strings:
            wired = [[str(panel.number) for panel in roof.panels_of(one)] for one in strings]
            made.append({**controller_limits(sun, controller.label), "strings": wired})
            numbers[controller.label] = strings
    return made, numbers


def controller_limits(sun: SunBasis, label: str) -> dict[str, Any]:
    """Return what a controller works within; raise DesignIncomplete where its part has no data sheet."""
    window = sun.windows[label]
    if window.limits is None:
        raise DesignIncomplete(window.problem)
    return dict(window.limits)


_SHEET_FIELDS: Final = (
    "pmp_w", "vmp_v", "imp_a", "voc_v", "isc_a", "length_m", "width_m", "alpha_isc_percent_per_c",
    "cells_in_series", "cell_columns", "cell_rows", "bypass_diodes", "is_half_cut",
)  # fmt: skip


def _sheet(model: PanelModel) -> dict[str, Any]:
    sheet: PanelFacts = sheet_of(model, "panel_sheet")
    found: dict[str, Any] = {"name": model.name, **{name: getattr(sheet, name) for name in _SHEET_FIELDS}}
    diode = single_diode(sheet)
    return found if diode is None else {**found, "single_diode": asdict(diode)}


def _guesses(sun: SunBasis, models: Iterable[PanelModel], obstacles: Iterable[RoofObstacle]) -> list[str]:
    """Return in words what the records do not say and the scene had to suppose."""
    by_part = {model.part_id: model for model in models}
    found = [words for model in by_part.values() for words in _sheet_guesses(model)]
    found += [
        f"the size of {obstacle.name} is the usual one, not measured"
        for obstacle in obstacles
        if obstacle.is_guess
    ]
    if not sun.has_bank:
        found.append(f"no bank is chosen: {UNKNOWN_ABSORB_V:.1f} V absorption for every 12 V")
    return found


def _sheet_guesses(model: PanelModel) -> Iterable[str]:
    sheet: PanelFacts = sheet_of(model, "panel_sheet")
    name = model.name
    if typed_grid(_sheet(model)) is None:
        is_blank = not sheet.cell_columns or not sheet.cell_rows
        why = "is not in the catalog" if is_blank else "does not fit its count of cells in series"
        yield f"the cell grid of {name} {why}: taken from its shape"
    if sheet.bypass_diodes is None:
        yield f"the bypass diodes of {name} are not in the catalog: one for every two rows of cells"
    elif sheet.cell_rows and sheet.bypass_diodes and sheet.cell_rows % sheet.bypass_diodes:
        yield f"the {sheet.bypass_diodes} bypass diodes of {name} do not divide its rows of cells evenly"


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
