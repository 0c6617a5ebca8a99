"""The every-hour year: the reference for the fast path, and the user's check."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizing.shade.engine.cover import cover_grid
from sizing.shade.engine.geometry import Layout, build_layout, build_plan, empty_boxes
from sizing.shade.engine.grid import direction_grid
from sizing.shade.engine.light import (
    States,
    heading_suns,
    is_level,
    kind_states,
    repeat_day,
    sky_open,
    state_index,
)
from sizing.shade.kernels.kernel_hourly import Lights, hourly_run
from sizing.shade.scene.scene import FloatArray, SceneInput, Wiring
from sizing.shade.sky.sun import Daylight

ABOVE = 87  # current steps up to the brightest light
GRID_V = 96  # voltages when strings stand in parallel


@dataclass(frozen=True, slots=True, eq=False)
class HourlyYear:
    """Power after each controller's cut (sample, heading, controller of all wirings) and what it rests on."""

    power_w: FloatArray
    unshaded_w: FloatArray
    beam_lost_w_m2: FloatArray
    states: States
    sky: FloatArray
    spans: tuple[tuple[int, int], ...]  # controllers of each wiring


def cell_sky(scene: SceneInput, layout: Layout, *, step_deg: float = 2.0) -> FloatArray:
    """Return the share of the sky each cell sees past the objects."""
    opened = sky_open(scene, layout)
    sky = np.repeat(opened[layout.wires.kind], np.diff(layout.grids.first))
    sphere = direction_grid(tuple(np.arange(step_deg / 2, 90.0, step_deg)), round(180.0 / step_deg))
    wanted = np.ones(layout.n_panels, np.bool_)
    n = len(sphere.directions)
    share, touched = np.zeros((n, layout.n_cells)), np.zeros((n, layout.n_panels), np.bool_)
    boxes = empty_boxes(layout, n)
    sky -= cover_grid(layout.shades, layout.grids, sphere, wanted, share, touched, boxes)
    return np.asarray(np.clip(sky, 0.0, 1.0))


def joined_wirings(wirings: tuple[Wiring, ...]) -> tuple[Wiring, tuple[tuple[int, int], ...]]:
    """Return all wirings as one list of controllers and the span of each."""
    spans, at = [], 0
    for wiring in wirings:
        spans.append((at, at + len(wiring.controllers)))
        at += len(wiring.controllers)
    return Wiring("all", tuple(c for wiring in wirings for c in wiring.controllers)), tuple(spans)


def hourly_year(
    scene: SceneInput,
    day: Daylight,
    *,
    wirings: tuple[Wiring, ...] | None = None,
    above: int = ABOVE,
    grid_v: int = GRID_V,
    layout: Layout | None = None,
    sky: FloatArray | None = None,
) -> HourlyYear:
    """Return every sample's power for every heading and wiring; ``sky`` spares working it out again."""
    layout = layout or build_layout(scene)
    chosen = scene.wirings if wirings is None else wirings
    joined, spans = joined_wirings(chosen)
    plan = build_plan(joined, layout)
    sun = heading_suns(scene, day)
    n, n_headings = sun.shape[:2]
    level = is_level(scene, layout)
    states = (
        kind_states(scene, layout, day, sun[:, 0])
        if level
        else kind_states(scene, layout, repeat_day(day, n_headings), sun.reshape(-1, 3))
    )
    sky = cell_sky(scene, layout) if sky is None else sky
    n_controllers = len(joined.controllers)
    power = np.zeros((n, n_headings, n_controllers))
    unshaded = np.zeros((n, n_headings, n_controllers))
    beam_lost = np.zeros((n, n_headings, layout.n_panels))
    hourly_run(
        layout.shades,
        layout.grids,
        layout.kinds,
        layout.wires,
        plan,
        sun,
        Lights(states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2, states.temp_cell_c),
        sky,
        sky_open(scene, layout),
        state_index(n, n_headings, level),
        0,
        n,
        above,
        grid_v,
        power,
        unshaded,
        beam_lost,
    )
    cut = np.array([c.p_max_w for c in joined.controllers])
    np.minimum(power, cut, out=power)  # in place: each is megabytes
    np.minimum(unshaded, cut, out=unshaded)
    return HourlyYear(power, unshaded, beam_lost, states, sky, spans)


def energy_kwh(power_w: FloatArray, day: Daylight, span: tuple[int, int]) -> FloatArray:
    """Return the yearly energy of a wiring by heading [kWh]."""
    total = power_w[:, :, span[0] : span[1]].sum(axis=2)
    return np.asarray(day.weight_h @ total / 1000.0)
