"""Knows the every-hour path: for each hour and heading shadows, curves and power, with nothing gridded."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.jit import kernel
from sizing.shade.kernel_cover import Grids, Shades, cover_sun, cover_work
from sizing.shade.kernel_curve import BELOW, PHASES, Bins, Kinds, Wires, curve_work, fill_table, light_current, panel_curve
from sizing.shade.kernel_string import Plan, controller_power

Array = npt.NDArray[Any]
LOWEST_SINE = 1e-4  # sun on the horizon: shadows without end


@kernel
def current_step(
    kinds: Kinds, beam: Array, diffuse: Array, extra: Array, sky_open: Array, temp_c: Array, above: int
) -> float:
    """Return the current step that lets the brightest kind of panel fill the grid [A]."""
    top = 0.0
    for k in range(kinds.groups.shape[0]):
        light = beam[k] + diffuse[k] * sky_open[k] + extra[k]
        top = max(top, light * light_current(kinds.cell, k, temp_c[k]) * kinds.halves[k])
    return max(top, 1e-6) * 1.01 / above


@kernel
def fill_tables(
    kinds: Kinds, temp_c: Array, step_a: float, above: int, tables: Array
) -> None:
    """Write the voltage table of every kind for one state of sky and heat."""
    for k in range(kinds.groups.shape[0]):
        fill_table(kinds, k, temp_c[k], step_a / kinds.halves[k], above, tables[k])


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
    above: int,
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
                kinds, wires, p, tables[k], none, none, 0.0, 0.0, light, temp_c[k], step_a, above, True, curves[p],
                bins,
            )  # fmt: skip


@kernel
def hourly_run(
    shades: Shades,
    grids: Grids,
    kinds: Kinds,
    wires: Wires,
    plan: Plan,
    sun: Array,
    beam: Array,
    diffuse: Array,
    extra: Array,
    temp_c: Array,
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
    """Write power [W] (hour, heading, controller), the same without objects, and beam lost (hour, heading, panel).

    ``sun`` (hour, heading, 3) in the vehicle frame; light and heat (state, kind); ``state_of`` (hour, heading).
    """
    n_panels, n_cells = wires.kind.shape[0], wires.branch.shape[0]
    n, n_kinds = above + BELOW + 1, kinds.groups.shape[0]
    tables = np.zeros((n_kinds, PHASES + 1, n + above), np.float32)
    curves, even, bare = (
        np.zeros((n_panels, n), np.float32), np.zeros((n_panels, n), np.float32), np.zeros((n_panels, n), np.float32),
    )  # fmt: skip
    strings, amps = np.zeros((plan.string_at.shape[0], n), np.float32), np.zeros(grid_v, np.float32)
    bins, work = curve_work(wires, above), cover_work(shades, grids)
    shares, none = np.zeros((1, n_cells)), np.zeros(n_cells)
    touches, never = np.zeros((1, n_panels), np.bool_), np.zeros(n_panels, np.bool_)
    share, touched, wanted = shares[0], touches[0], np.ones(n_panels, np.bool_)
    kind_of, first_of = wires.kind, wires.first
    for hour in range(first_hour, last_hour):
        state = -1
        step_a = 1.0
        for h in range(sun.shape[1]):
            if state_of[hour, h] != state:
                state = state_of[hour, h]
                step_a = current_step(
                    kinds, beam[state], diffuse[state], extra[state], sky_open, temp_c[state], above
                )
                fill_tables(kinds, temp_c[state], step_a, above, tables)
                unshaded_curves(
                    kinds, wires, tables, beam[state], diffuse[state], extra[state], sky_open, temp_c[state],
                    step_a, above, none, bare, bins,
                )  # fmt: skip
                for p in range(n_panels):
                    k = kind_of[p]
                    panel_curve(
                        kinds, wires, p, tables[k], none, sky, beam[state, k], diffuse[state, k],
                        extra[state, k], temp_c[state, k], step_a, above, False, even[p], bins,
                    )  # fmt: skip
                for c in range(plan.tracker.shape[0]):
                    unshaded[hour, h, c] = controller_power(bare, bare, never, step_a, plan, c, strings, amps)[0]
            else:
                for c in range(plan.tracker.shape[0]):
                    unshaded[hour, h, c] = unshaded[hour, h - 1, c]
            if sun[hour, h, 2] > LOWEST_SINE:
                cover_sun(shades, grids, sun[hour, h], wanted, 0, shares, touches, work)
            else:
                touched[:] = False
            for p in range(n_panels):
                k = kind_of[p]
                beam_lost[hour, h, p] = 0.0
                touched[p] = touched[p] and beam[state, k] > 0.0
                if not touched[p]:
                    continue
                total = 0.0
                for c in range(first_of[p], first_of[p + 1]):
                    total += share[c]
                beam_lost[hour, h, p] = beam[state, k] * total / (first_of[p + 1] - first_of[p])
                panel_curve(
                    kinds, wires, p, tables[k], share, sky, beam[state, k], diffuse[state, k], extra[state, k],
                    temp_c[state, k], step_a, above, False, curves[p], bins,
                )  # fmt: skip
            for c in range(plan.tracker.shape[0]):
                power[hour, h, c] = controller_power(curves, even, touched, step_a, plan, c, strings, amps)[0]
