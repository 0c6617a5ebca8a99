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


@kernel
def current_step(
    kinds: Kinds, beam: Array, diffuse: Array, extra: Array, sky_open: Array, temp_c: Array, above: int
) -> float:
    """Return the current step that lets the brightest kind of panel fill the grid [A]."""
    top = 0.0
    for k in range(kinds.groups.shape[0]):
        light = beam[k] + diffuse[k] * sky_open[k] + extra[k]
        top = max(top, light * light_current(kinds.cell[k], temp_c[k]) * kinds.halves[k])
    return max(top, 1e-6) * 1.01 / above


@kernel
def fill_tables(
    kinds: Kinds, temp_c: Array, step_a: float, above: int, tables: Array
) -> None:
    """Write the voltage table of every kind for one state of sky and heat."""
    for k in range(kinds.groups.shape[0]):
        fill_table(kinds, k, temp_c[k], step_a / kinds.halves[k], above, tables[k])


@kernel
def panel_light(
    wires: Wires, p: int, share: Array, sky: Array, beam: float, diffuse: float, extra: float, light: Array
) -> None:
    """Write the usable light on every cell of a panel [W/m²]."""
    for c in range(wires.first[p], wires.first[p + 1]):
        light[c] = beam * (1.0 - share[c]) + diffuse * sky[c] + extra


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
    light: Array,
    curves: Array,
    bins: Bins,
) -> None:
    """Write the curve of every panel as if nothing stood on the roof; equal panels are computed once."""
    for p in range(wires.kind.shape[0]):
        k = wires.kind[p]
        is_copied = False
        for q in range(p):
            if wires.kind[q] == k:
                curves[p] = curves[q]
                is_copied = True
                break
        if is_copied:
            continue
        for c in range(wires.first[p], wires.first[p + 1]):
            light[c] = beam[k] + diffuse[k] * sky_open[k] + extra[k]
        panel_curve(
            kinds, wires, p, tables[k], light, True, temp_c[k], step_a, above, curves[p], bins
        )


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
    n_strings = plan.string_at.shape[0]
    tables = np.zeros((n_kinds, PHASES + 1, n + above), np.float32)
    curves = np.zeros((n_panels, n), np.float32)
    even = np.zeros((n_panels, n), np.float32)
    bare = np.zeros((n_panels, n), np.float32)
    strings = np.zeros((n_strings, n), np.float32)
    amps = np.zeros(grid_v, np.float32)
    bins = curve_work(wires, above)
    share, light, none = np.zeros(n_cells), np.zeros(n_cells), np.zeros(n_cells)
    touched = np.zeros(n_panels, np.bool_)
    wanted = np.ones(n_panels, np.bool_)
    work = cover_work(shades, grids)
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
                    step_a, above, light, bare, bins,
                )  # fmt: skip
                for p in range(n_panels):
                    k = wires.kind[p]
                    panel_light(wires, p, none, sky, beam[state, k], diffuse[state, k], extra[state, k], light)
                    panel_curve(
                        kinds, wires, p, tables[k], light, True, temp_c[state, k], step_a, above, even[p],
                        bins,
                    )  # fmt: skip
                for c in range(plan.tracker.shape[0]):
                    unshaded[hour, h, c] = controller_power(bare, step_a, plan, c, strings, amps)[0]
            else:
                for c in range(plan.tracker.shape[0]):
                    unshaded[hour, h, c] = unshaded[hour, h - 1, c]
            if sun[hour, h, 2] > 1e-4:
                cover_sun(shades, grids, sun[hour, h], wanted, share, touched, work)
            else:
                touched[:] = False
            for p in range(n_panels):
                k = wires.kind[p]
                beam_lost[hour, h, p] = 0.0
                if not touched[p] or beam[state, k] <= 0.0:
                    curves[p] = even[p]
                    continue
                first, last = wires.first[p], wires.first[p + 1]
                total = 0.0
                for c in range(first, last):
                    total += share[c]
                if total == 0.0:
                    curves[p] = even[p]
                    continue
                beam_lost[hour, h, p] = beam[state, k] * total / (last - first)
                panel_light(wires, p, share, sky, beam[state, k], diffuse[state, k], extra[state, k], light)
                panel_curve(
                    kinds, wires, p, tables[k], light, False, temp_c[state, k], step_a, above, curves[p],
                    bins,
                )  # fmt: skip
            for c in range(plan.tracker.shape[0]):
                power[hour, h, c] = controller_power(curves, step_a, plan, c, strings, amps)[0]


@kernel
def sky_views(
    shades: Shades,
    grids: Grids,
    directions: Array,
    weight: Array,
    plane_normal: Array,
    wanted: Array,
    sky: Array,
) -> None:
    """Take from ``sky`` what the objects hide: sum over directions of weight * cosine * covered share."""
    n_panels, n_cells = grids.plane.shape[0], sky.shape[0]
    share = np.zeros(n_cells)
    touched = np.zeros(n_panels, np.bool_)
    work = cover_work(shades, grids)
    for d in range(directions.shape[0]):
        cover_sun(shades, grids, directions[d], wanted, share, touched, work)
        for p in range(n_panels):
            if not wanted[p] or not touched[p]:
                continue
            normal = plane_normal[grids.plane[p]]
            facing = (
                normal[0] * directions[d, 0] + normal[1] * directions[d, 1] + normal[2] * directions[d, 2]
            )
            if facing > 0.0:
                for c in range(grids.first[p], grids.first[p + 1]):
                    sky[c] -= weight[d] * facing * share[c]
