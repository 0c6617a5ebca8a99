"""Scenes and small doors into the shade engine that several tests share."""

from __future__ import annotations

import json
import math
import os
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from sizing.shade.answers.hourly import HourlyYear, energy_kwh, hourly_year
from sizing.shade.answers.moment import _powers
from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import Layout, build_layout
from sizing.shade.engine.light import States
from sizing.shade.engine.place import build_place
from sizing.shade.scene.read_scene import scene_from_file
from sizing.shade.scene.scene import (
    Cell,
    Controller,
    FloatArray,
    PanelType,
    PlacedPanel,
    SceneInput,
    Site,
    WeatherFile,
    Wiring,
)
from sizing.shade.sky.sun import Daylight
from sizing.shade.sky.weather import daylight_for

DATA = Path(__file__).parent.parent / "fixtures" / "published" / "shade"
SCENES = ("d1_small_van", "d2_motorhome", "d3_half_cut_south")
#: Typical years: file, format and place as their headers give it.
YEARS = {
    "phoenix": ("US_AZ_Phoenix_722780_TMY3.csv.gz", "tmy3", Site(33.45, -111.983, 337.0, -7)),
    "boulder": ("US_CO_Boulder-Broomfield_724699_TMY3.epw.gz", "epw", Site(40.13, -105.24, 1689.0, -7)),
    "miami": ("US_FL_Miami_722020_TMY3.epw.gz", "epw", Site(25.82, -80.30, 11.0, -5)),
    "seattle": ("US_WA_Seattle-Tacoma_727930_TMY3.epw.gz", "epw", Site(47.47, -122.32, 122.0, -8)),
    "piedmont": ("EU_45.00N_8.00E_PVGIS_TMY_2005-2023.csv.gz", "pvgis_tmy", Site(45.0, 8.0, 250.0, 1)),
}
FULL = bool(os.environ.get("SHADE_FULL"))  # every scene with every year: minutes instead of seconds


@cache
def scene(name: str) -> SceneInput:
    """Return one of the three published scenes."""
    return scene_from_file(DATA / f"{name}.json")


@cache
def expected(name: str) -> dict[str, Any]:
    """Return the brute-force answer of a scene."""
    found: dict[str, Any] = json.loads((DATA / f"{name}.expected.json").read_text())
    return found


def in_weather(roof: SceneInput, year: str) -> SceneInput:
    """Return a scene moved to the place and weather of a typical year."""
    file, form, site = YEARS[year]
    return replace(roof, site=site, weather=WeatherFile(str(DATA / file), form))


def grid_kwh(roof: SceneInput, **kwargs: Any) -> dict[str, np.ndarray]:
    """Return the gridded energy of every wiring by heading."""
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof), **kwargs)
    shadows = cast_shadows(place, layout)
    return {w.name: wiring_year(place, shadows, w).by_heading_kwh for w in roof.wirings}


def every_hour_kwh(roof: SceneInput, **kwargs: Any) -> dict[str, np.ndarray]:
    """Return the every-hour energy of every wiring by heading."""
    day = daylight_for(roof)
    year = hourly_year(roof, day, **kwargs)
    return {
        w.name: energy_kwh(year.power_w, day, span) for w, span in zip(roof.wirings, year.spans, strict=True)
    }


def panel_light_loss(year: HourlyYear, layout: Layout, day: Daylight, opened: FloatArray) -> FloatArray:
    """Return each panel's share of usable light lost, mean of headings."""
    n_headings = year.beam_lost_w_m2.shape[1]
    per_heading = year.states.beam_w_m2.shape[0] == day.n * n_headings and n_headings > 1
    weight = np.repeat(day.weight_h, n_headings) if per_heading else day.weight_h
    share = 1.0 / n_headings if per_heading else 1.0
    losses = []
    for p in range(layout.n_panels):
        k = int(layout.wires.kind[p])
        cells = slice(int(layout.grids.first[p]), int(layout.grids.first[p + 1]))
        states = year.states
        full = weight @ (states.beam_w_m2[:, k] + states.diffuse_w_m2[:, k] * opened[k]) * share
        hidden = opened[k] - year.sky[cells].mean()
        lost_sky = weight @ states.diffuse_w_m2[:, k] * hidden * share
        lost_beam = (day.weight_h @ year.beam_lost_w_m2[:, :, p]).mean()
        losses.append((lost_beam + lost_sky) / full if full > 0 else math.nan)
    return np.array(losses)


def total_light_kwh_m2(day: Daylight) -> FloatArray:
    """Return monthly global horizontal light of samples [kWh/m²]."""
    return np.bincount(day.month.astype(np.int64) - 1, day.ghi_w_m2 * day.weight_h / 1000.0, minlength=12)


GENERIC_CELL = Cell(
    light_current_a=6.0,
    saturation_current_a=2e-10,
    ideality=1.07,
    series_ohm=0.006,
    shunt_ohm=30.0,
    alpha_a_per_k=0.003,
)


def panel_type(
    nx: int = 9, ny: int = 4, n_bypass: int = 2, halves: int = 1, cell: Cell = GENERIC_CELL
) -> PanelType:
    """Return an invented panel type."""
    return PanelType("T", 1.1, 0.56, nx, ny, n_bypass, halves, 0.02, cell)


def array_power_w(
    kind: PanelType,
    strings: list[list[int]],
    shaded: dict[tuple[int, int], float],
    *,
    beam_w_m2: float = 1000.0,
    diffuse_w_m2: float = 0.0,
    temp_cell_c: float = 25.0,
    controller: Controller | None = None,
) -> float:
    """Return the best power of panels in strings; ``shaded`` maps (panel, cell) to the share of beam gone."""
    n = 1 + max(p for string in strings for p in string)
    panels = tuple(PlacedPanel(str(p), kind.name, 0.0, 0.0, 0.06) for p in range(n))
    roof = replace(scene("d1_small_van"), panel_types={kind.name: kind}, panels=panels, obstructions=())
    layout = build_layout(roof)
    share, touched = np.zeros((1, layout.n_cells)), np.zeros((1, n), np.bool_)
    for (p, cell), part in shaded.items():
        share[0, layout.grids.first[p] + cell] = part
        touched[0, p] = True
    states = States(*(np.array([[value]]) for value in (beam_w_m2, diffuse_w_m2, 0.0, temp_cell_c)))
    named = tuple(tuple(str(p) for p in string) for string in strings)
    wiring = Wiring("w", (replace(controller or Controller(strings=()), strings=named),))
    return float(_powers(roof, layout, states, share, touched, np.ones(layout.n_cells), wiring).sum())
