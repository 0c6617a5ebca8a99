"""The every-hour path: for each hour and heading shadows, curves and power, with nothing gridded."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import NO, YES, ZERO, kernel
from sizing.shade.kernels.kernel_cover import Grids, Shades, cover_sun, cover_work
from sizing.shade.kernels.kernel_curve import (
    BELOW,
    PHASES,
    Bins,
    Kinds,
    Wires,
    curve_work,
    fill_table,
    light_current,
    panel_curve,
)
from sizing.shade.kernels.kernel_string import Plan, controller_power

Array = npt.NDArray[Any]
LOWEST_SINE = 1e-4  # sun on the horizon: shadows without end


@kernel
def current_step(
    kinds: Kinds, beam: Array, diffuse: Array, extra: Array, sky_open: Array, temp_c: Array, above: int
) -> float:
    """Return the current step that lets the brightest kind of panel fill the grid [A]."""
    top = 0.0
    for k in range(kinds.cells.shape[0]):
        light = beam[k] + diffuse[k] * sky_open[k] + extra[k]
        top = max(top, light * light_current(kinds.cell, k, temp_c[k]) * kinds.make[k, 1])
    return max(top, 1e-6) * 1.01 / above


@kernel
def fill_tables(kinds: Kinds, temp_c: Array, step_a: float, above: int, tables: Array) -> None:
    """Write the voltage table of every kind for one state of sky and heat."""
    for k in range(kinds.cells.shape[0]):
        fill_table(kinds, k, temp_c[k], step_a / kinds.make[k, 1], above, tables[k])


@kernel
def unshaded_curves(
    kinds: Kinds,
    wires: Wires,
    tables: Array,
    beam: Array,
    diffuse: Array,
    extra: Array,
    sky_open: Array,
    temp_c: Array,
    step_a: float,
    none: Array,
    curves: Array,
    bins: Bins,
) -> None:
    """Write the curve of every panel as if nothing stood on the roof; equal panels are computed once."""
    for p in range(wires.kind.shape[0]):
        k = wires.kind[p]
        is_copied = False
        for q in range(p):
            if wires.kind[q] == k:
                for j in range(curves.shape[1]):
                    curves[p, j] = curves[q, j]
                is_copied = True
                break
        if not is_copied:
            light = beam[k] + diffuse[k] * sky_open[k] + extra[k]
            panel_curve(
                kinds.cell, kinds.make, k, wires.branch, wires.first[p], wires.first[p + 1], tables[k],
                none, none, (0.0, 0.0, light), temp_c[k], step_a, YES, curves[p], bins.filled, bins.row,
                bins.weight, bins.place, bins.curve,
            )  # fmt: skip


class Lights(NamedTuple):
    """Usable light [W/m²] and cell temperature [°C] (state, kind)."""

    beam: Array
    diffuse: Array
    extra: Array
    temp_c: Array


@kernel
def state_curves(
    kinds: Kinds,
    wires: Wires,
    lights: Lights,
    state: int,
    sky: Array,
    sky_open: Array,
    above: int,
    none: Array,
    tables: Array,
    bare: Array,
    even: Array,
    bins: Bins,
) -> float:
    """Write the tables, bare curves and curves with no beam lost of one state; return the current step."""
    beam, diffuse, extra, temp_c = (
        lights.beam[state], lights.diffuse[state], lights.extra[state], lights.temp_c[state],
    )  # fmt: skip
    step_a = current_step(kinds, beam, diffuse, extra, sky_open, temp_c, above)
    fill_tables(kinds, temp_c, step_a, above, tables)
    unshaded_curves(kinds, wires, tables, beam, diffuse, extra, sky_open, temp_c, step_a, none, bare, bins)
    for p in range(wires.kind.shape[0]):
        k = wires.kind[p]
        panel_curve(
            kinds.cell, kinds.make, k, wires.branch, wires.first[p], wires.first[p + 1], tables[k], none,
            sky, (beam[k], diffuse[k], extra[k]), temp_c[k], step_a, NO, even[p], bins.filled, bins.row,
            bins.weight, bins.place, bins.curve,
        )  # fmt: skip
    return step_a


@kernel
def shaded_curves(
    kinds: Kinds,
    wires: Wires,
    lights: Lights,
    state: int,
    share: Array,
    sky: Array,
    step_a: float,
    tables: Array,
    touched: Array,
    curves: Array,
    beam_lost: Array,
    bins: Bins,
) -> None:
    """Write the curves of panels that a beam shadow touches, and the beam every panel loses [W/m²]."""
    for p in range(wires.kind.shape[0]):
        k, first, last = wires.kind[p], wires.first[p], wires.first[p + 1]
        beam = lights.beam[state, k]
        beam_lost[p] = 0.0
        touched[p] = touched[p] and beam > 0.0
        if not touched[p]:
            continue
        total = 0.0
        for c in range(first, last):
            total += share[c]
        beam_lost[p] = beam * total / (last - first)
        panel_curve(
            kinds.cell, kinds.make, k, wires.branch, first, last, tables[k], share, sky,
            (beam, lights.diffuse[state, k], lights.extra[state, k]), lights.temp_c[state, k], step_a, NO,
            curves[p], bins.filled, bins.row, bins.weight, bins.place, bins.curve,
        )  # fmt: skip


@kernel
def hourly_run(
    shades: Shades,
    grids: Grids,
    kinds: Kinds,
    wires: Wires,
    plan: Plan,
    sun: Array,
    lights: Lights,
    sky: Array,
    sky_open: Array,
    state_of: Array,
    first_hour: int,
    last_hour: int,
    above: int,
    grid_v: int,
    power: Array,
    unshaded: Array,
    beam_lost: Array,
) -> None:
    """Write power [W] (hour, heading, controller), the same without objects, and beam lost by panel.

    ``sun`` (hour, heading, 3) in the vehicle frame; ``state_of`` (hour, heading).
    """
    n_panels, n_cells, n_kinds = wires.kind.shape[0], wires.branch.shape[0], kinds.cells.shape[0]
    n_controllers, n = plan.tracker.shape[0], above + BELOW + 1
    tables = np.zeros((n_kinds, PHASES + 1, n + above), np.float32)
    curves = np.zeros((1, n_panels, n), np.float32)
    even, bare = np.zeros((1, n_panels, n), np.float32), np.zeros((1, n_panels, n), np.float32)
    strings, amps = np.zeros((plan.string_at.shape[0], n), np.float32), np.zeros(grid_v, np.float32)
    bins, work = curve_work(wires, above), cover_work(shades, grids)
    shares, none = np.zeros((1, n_cells)), np.zeros(n_cells)
    touches, never = np.zeros((1, n_panels), np.bool_), np.zeros((1, n_panels), np.bool_)
    wanted = np.ones(n_panels, np.bool_)
    boxes = np.zeros((grids.frame.shape[0], shades.kind.shape[0], 4))
    for hour in range(first_hour, last_hour):
        state, step_a = -1, 1.0
        for h in range(sun.shape[1]):
            is_new = state_of[hour, h] != state
            if is_new:
                state = state_of[hour, h]
                step_a = state_curves(
                    kinds, wires, lights, state, sky, sky_open, above, none, tables, bare[0], even[0], bins
                )
            if sun[hour, h, 2] > LOWEST_SINE:
                cover_sun(shades, grids, sun[hour, h], wanted, ZERO, shares, touches, boxes, NO, work)
            else:
                touches[:] = False
            shaded_curves(
                kinds, wires, lights, state, shares[0], sky, step_a, tables, touches[0], curves[0],
                beam_lost[hour, h], bins,
            )  # fmt: skip
            for c in range(n_controllers):
                unshaded[hour, h, c] = (
                    controller_power(bare, ZERO, bare, ZERO, never, ZERO, step_a, plan, c, strings, amps)[0]
                    if is_new
                    else unshaded[hour, h - 1, c]
                )
                power[hour, h, c] = controller_power(
                    curves, ZERO, even, ZERO, touches, ZERO, step_a, plan, c, strings, amps
                )[0]
