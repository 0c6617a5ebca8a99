"""What a place does to the kinds of panel on a roof, whatever stands where: sky states and energy maps.

Made once per place, weather, parking attitude and set of panel kinds; every layout on that roof shares it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.engine.geometry import Layout
from sizing.shade.engine.grid import (
    N_OVERCAST,
    N_SUNLIT,
    DirectionGrid,
    IntArray,
    direction_grid,
    grid_rise,
    node_means,
    sky_classes,
)
from sizing.shade.engine.light import (
    FLAT,
    States,
    heading_suns,
    is_level,
    kind_states,
    repeat_day,
    sky_open,
    vehicle_axes,
)
from sizing.shade.engine.spacing import node_spacing
from sizing.shade.kernels.kernel_curve import BELOW, PHASES, Kinds, Wires
from sizing.shade.kernels.kernel_nodes import bare_curves, scatter_energy, state_tables
from sizing.shade.kernels.kernel_string import BEST_PEAK, Plan
from sizing.shade.kernels.kernel_wiring import curves_power
from sizing.shade.scene.scene import FloatArray, SceneInput
from sizing.shade.sky.sky_formulas import reflection
from sizing.shade.sky.sun import Daylight

ABOVE = 47  # current steps up to the brightest light; with those below zero 56, a whole number of vectors
FINE_ABOVE = 111  # the same where a power is rated once
GRID_V = 32  # voltages when strings stand in parallel
MONTHS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Where each sample (or sample and heading, off the level) falls on the grid."""

    rise: FloatArray
    turn: FloatArray  # absolute azimuth on the level, relative off it
    part: IntArray
    month: IntArray
    heading: IntArray
    weight_h: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Sky states, their tables, bare curves by kind, and energy maps.

    Maps run over (kind, column, elevation, class, azimuth).

    On the level a column is a month and headings turn the map; off it a column is a heading and month.
    """

    day: Daylight
    level: bool
    n_sunlit: int  # classes; the others are overcast
    headings_deg: FloatArray
    grid: DirectionGrid
    n_elevation: int
    samples: Samples
    states: States
    state_of: IntArray
    spacing: IntArray  # (elevation, class) azimuths from one asked to the next
    sunlit: npt.NDArray[np.bool_]  # (state,) whether any beam is left to lose
    sky_open: FloatArray
    steps: FloatArray
    tables: FloatArray
    bare: FloatArray  # (state, kind, current)
    own_state_w: FloatArray  # (state, kind)
    own_w: FloatArray  # (sample, kind)
    sample_bare: FloatArray  # (sample, kind, current), empty off the level
    sample_steps: FloatArray
    maps: FloatArray
    kinds: Kinds
    kept: dict[tuple[object, ...], Any] = field(default_factory=dict)
    references: dict[tuple[int, ...], Any] = field(default_factory=dict)


def lone_plan(n: int) -> Plan:
    """Return a plan with each of n panels on a tracker of its own."""
    ladder = np.arange(n + 1, dtype=np.int64)
    limits = np.tile(np.array([0.0, 1e9, 0.0, 0.0]), (n, 1))
    return Plan(ladder[:-1], ladder, ladder, np.full(n, BEST_PEAK, np.int64), limits, np.zeros(n, np.bool_))


def build_place(
    scene: SceneInput,
    layout: Layout,
    day: Daylight,
    *,
    classes: tuple[int, int] = (N_SUNLIT, N_OVERCAST),
    above: int = ABOVE,
    grid: DirectionGrid | None = None,
    is_sparse: bool = True,
) -> Place:
    """Return the place of a scene; ``is_sparse`` asks rows of little energy at fewer azimuths."""
    grid = grid or direction_grid()
    level = is_level(scene, layout)
    opened = sky_open(scene, layout)
    suns = heading_suns(scene, day)
    wide = day if level else repeat_day(day, len(scene.headings_deg))
    sun = suns[:, 0] if level else suns.reshape(-1, 3)
    samples, flat = _samples(scene, day, wide, sun, grid, level, classes)
    n_class = sum(classes)
    n_elevation = min(int(np.ceil(samples.rise.max())) + 1, len(grid.elevation_deg))
    sample_states = kind_states(scene, layout, wide, sun)
    states, state_of = _node_states(
        scene, layout, wide, samples, sample_states, flat, grid, n_elevation, level, n_class
    )
    _cloud_over(states, state_of, opened, classes[0])
    steps, tables, bare = _bare(layout.kinds, states, opened, above)
    lone = lone_plan(len(layout.kind_types))
    own_state = _power(lone, steps, bare)
    if level:
        sample_steps, _, sample_bare = _bare(layout.kinds, sample_states, opened, above, keep_tables=False)
        own = _power(lone, sample_steps, sample_bare)
    else:
        sample_steps, sample_bare = (
            np.zeros(0),
            np.zeros((0, len(layout.kind_types), above + BELOW + 1), np.float32),
        )
        own = _own_by_table(layout.kinds, sample_states, opened, above)
    maps = _maps(samples, own, level, len(scene.headings_deg), (n_elevation, n_class, len(grid.azimuth_deg)))
    return Place(
        day=day,
        level=level,
        n_sunlit=classes[0],
        headings_deg=np.asarray(scene.headings_deg),
        grid=grid,
        n_elevation=n_elevation,
        samples=samples,
        states=states,
        state_of=state_of,
        spacing=node_spacing(maps, classes[0] if level and is_sparse else 0),
        sunlit=states.beam_w_m2.max(axis=1) > 0.0,
        sky_open=opened,
        steps=steps,
        tables=tables,
        bare=bare,
        own_state_w=own_state,
        own_w=own,
        sample_bare=sample_bare,
        sample_steps=sample_steps,
        maps=maps,
        kinds=layout.kinds,
    )


def _samples(
    scene: SceneInput,
    day: Daylight,
    wide: Daylight,
    sun: FloatArray,
    grid: DirectionGrid,
    level: bool,
    classes: tuple[int, int],
) -> tuple[Samples, FloatArray]:
    """Return where samples fall on the grid, and their light on the flat roof (beam, diffuse)."""
    n_headings = len(scene.headings_deg)
    elevation = np.degrees(np.arcsin(np.clip(sun[:, 2], -1.0, 1.0)))
    azimuth = day.azimuth_deg if level else np.degrees(np.arctan2(-sun[:, 1], sun[:, 0]))
    rise = grid_rise(elevation, grid)
    cosine = np.maximum(0.0, sun[:, 2])
    up = float((vehicle_axes(scene.pitch_deg, scene.roll_deg).T @ FLAT)[2])
    beam = wide.dni_w_m2 * cosine * reflection(cosine)
    diffuse = wide.dhi_w_m2 * wide.iam_diffuse * (1.0 + up) / 2.0
    light = np.maximum(beam + diffuse, 1e-9)
    samples = Samples(
        rise=rise,
        turn=(azimuth % 360.0) / 360.0 * len(grid.azimuth_deg),
        part=sky_classes(rise, diffuse / light, light, wide.weight_h, classes),
        month=wide.month.astype(np.int64),
        heading=np.zeros(day.n, np.int64) if level else np.tile(np.arange(n_headings), day.n),
        weight_h=wide.weight_h,
    )
    return samples, light


def _node_states(
    scene: SceneInput,
    layout: Layout,
    wide: Daylight,
    samples: Samples,
    sample_states: States,
    light: FloatArray,
    grid: DirectionGrid,
    n_elevation: int,
    level: bool,
    n_class: int,
) -> tuple[States, IntArray]:
    """Return the mean states of the nodes and which state each node (elevation, class, azimuth) has."""
    n_azimuth = len(grid.azimuth_deg)
    shape = (n_elevation, n_class)
    weight = samples.weight_h * light
    if level:
        n = len(layout.kind_types)
        packed = np.hstack(
            [
                sample_states.beam_w_m2,
                sample_states.diffuse_w_m2,
                sample_states.extra_w_m2,
                sample_states.temp_cell_c,
            ]
        )
        means = node_means(samples.rise, samples.part, weight, packed, shape).reshape(-1, 4 * n)
        parts = [np.ascontiguousarray(means[:, i * n : (i + 1) * n]) for i in range(4)]
        index = np.repeat(np.arange(n_elevation * n_class)[:, None], n_azimuth, axis=1)
        return States(*parts), index.reshape(n_elevation, n_class, n_azimuth)
    packed = np.column_stack(
        [
            wide.dni_w_m2,
            wide.dhi_w_m2,
            wide.dhi_horizon_w_m2,
            wide.ghi_w_m2,
            wide.temp_air_c,
            1.0 / wide.u_w_m2k,
        ]
    )
    means = node_means(samples.rise, samples.part, weight, packed, shape)
    spread = np.repeat(means[:, :, None, :], n_azimuth, axis=2).reshape(-1, 6)
    directions = grid.directions[: n_elevation * n_azimuth].reshape(n_elevation, 1, n_azimuth, 3)
    sun = np.repeat(directions, n_class, axis=1).reshape(-1, 3)
    zero = np.zeros(len(spread))
    pseudo = Daylight(
        zero, zero, zero, zero, spread[:, 0], spread[:, 1], spread[:, 2], spread[:, 3], spread[:, 4],
        1.0 / np.maximum(spread[:, 5], 1e-6), wide.iam_diffuse, zero, zero,
    )  # fmt: skip
    index = np.arange(len(spread)).reshape(n_elevation, n_class, n_azimuth)
    return kind_states(scene, layout, pseudo, sun), index


def _cloud_over(states: States, state_of: IntArray, opened: FloatArray, n_sunlit: int) -> None:
    """Turn the little beam of overcast states into diffuse light: they cast no shadow."""
    rows = np.unique(state_of[:, n_sunlit:, :])
    states.diffuse_w_m2[rows] += states.beam_w_m2[rows] / np.maximum(opened, 1e-6)
    states.beam_w_m2[rows] = 0.0


def _bare(
    kinds: Kinds, states: States, opened: FloatArray, above: int, *, keep_tables: bool = True
) -> tuple[FloatArray, Any, Any]:
    """Return current steps, tables and bare curves (state, kind, current)."""
    n_states, n_kinds = states.beam_w_m2.shape
    n = above + BELOW + 1
    wires = _kind_wires(kinds)
    steps = np.zeros(n_states)
    curves = np.zeros((n_states, n_kinds, n), np.float32)
    tables = np.zeros((n_states if keep_tables else 0, n_kinds, PHASES + 1, n + above), np.float32)
    block = n_states if keep_tables else 512
    for start in range(0, n_states, block):
        rows = slice(start, min(start + block, n_states))
        beam, diffuse, extra, temp_c = (
            np.ascontiguousarray(a[rows])
            for a in (states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2, states.temp_cell_c)
        )
        held = tables if keep_tables else np.zeros((len(beam), n_kinds, PHASES + 1, n + above), np.float32)
        state_tables(kinds, beam, diffuse, extra, temp_c, opened, above, steps[rows], held)
        bare_curves(kinds, wires, beam, diffuse, extra, temp_c, opened, steps[rows], held, curves[rows])
    return steps, tables, curves


def _kind_wires(kinds: Kinds) -> Wires:
    """Return one stand-in panel per kind; every cell of a bare panel has the same light."""
    n = len(kinds.cells)
    counts = kinds.cells.astype(np.int64)
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    branches = [np.arange(c) * (g * h) // c for c, (g, h, _) in zip(counts, kinds.make, strict=True)]
    return Wires(np.arange(n, dtype=np.int64), first, np.concatenate(branches).astype(np.int64))


def _power(plan: Plan, steps: FloatArray, curves: FloatArray) -> FloatArray:
    power = np.zeros((len(steps), len(plan.tracker)))
    curves_power(plan, steps, curves, GRID_V, power)
    return power


def _own_by_table(kinds: Kinds, states: States, opened: FloatArray, above: int) -> FloatArray:
    """Return each kind's own best power by sample from a table over light and temperature."""
    lights = np.concatenate([[0.0], np.geomspace(1.0, 1800.0, 60)])
    temps = np.arange(-60.0, 131.0, 5.0)
    columns = []
    for k in range(len(kinds.cells)):
        light = states.beam_w_m2[:, k] + states.diffuse_w_m2[:, k] * opened[k] + states.extra_w_m2[:, k]
        table = _own_table(kinds, k, lights, temps, above)
        x = np.clip(np.interp(light, lights, np.arange(len(lights))), 0, len(lights) - 1.001)
        y = np.clip((states.temp_cell_c[:, k] - temps[0]) / 5.0, 0, len(temps) - 1.001)
        i, j = x.astype(np.int64), y.astype(np.int64)
        tx, ty = x - i, y - j
        low = table[i, j] * (1 - ty) + table[i, j + 1] * ty
        high = table[i + 1, j] * (1 - ty) + table[i + 1, j + 1] * ty
        columns.append((low * (1 - tx) + high * tx) * light)
    return np.column_stack(columns)


def _own_table(kinds: Kinds, k: int, lights: FloatArray, temps: FloatArray, above: int) -> FloatArray:
    """Return best power per W/m² (light, temperature) of one kind."""
    one = Kinds(*(np.ascontiguousarray(field[k : k + 1]) for field in kinds))
    g, t = np.meshgrid(np.maximum(lights, 0.1), temps, indexing="ij")
    zero = np.zeros((g.size, 1))
    states = States(g.reshape(-1, 1), zero, zero, t.reshape(-1, 1))
    steps, _, curves = _bare(one, states, np.ones(1), above, keep_tables=False)
    return np.asarray(_power(lone_plan(1), steps, curves)[:, 0].reshape(g.shape) / g)


def _maps(
    samples: Samples, own_w: FloatArray, level: bool, n_headings: int, shape: tuple[int, int, int]
) -> FloatArray:
    columns = samples.month - 1 if level else samples.heading * MONTHS + samples.month - 1
    n_columns = MONTHS if level else MONTHS * n_headings
    maps = np.zeros((own_w.shape[1], n_columns, *shape))
    for k in range(own_w.shape[1]):
        energy = np.ascontiguousarray(own_w[:, k] * samples.weight_h)
        scatter_energy(columns, samples.rise, samples.turn, samples.part, energy, maps[k])
    return maps


def rated_power_w(kinds: Kinds) -> FloatArray:
    """Return each kind's best power at 1000 W/m² and 25 °C [W]."""
    n = len(kinds.cells)
    zero, full = np.zeros((1, n)), np.full((1, n), 1000.0)
    steps, _, curves = _bare(kinds, States(full, zero, zero, np.full((1, n), 25.0)), np.ones(n), FINE_ABOVE)
    return np.asarray(_power(lone_plan(n), steps, curves)[0])
