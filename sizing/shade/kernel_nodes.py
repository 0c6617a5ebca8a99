"""Knows the gridded path: shadows per sun direction, curves per (sky state, direction), power, and the year's sum.

Node order everywhere: (elevation, azimuth) for directions, (elevation, class, azimuth) for nodes.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.jit import kernel
from sizing.shade.kernel_cover import Grids, Shades, cover_sun, cover_work
from sizing.shade.kernel_curve import BELOW, Kinds, Wires, curve_work, panel_curve
from sizing.shade.kernel_hourly import current_step, fill_tables, panel_light, unshaded_curves
from sizing.shade.kernel_string import Plan, controller_power

Array = npt.NDArray[Any]


@kernel
def cover_nodes(
    shades: Shades,
    grids: Grids,
    directions: Array,
    weight: Array,
    wanted: Array,
    share: Array,
    touched: Array,
    sky: Array,
) -> None:
    """Write covered share (direction, cell) and touched (direction, panel); take hidden sky from ``sky``."""
    work = cover_work(shades, grids)
    for d in range(directions.shape[0]):
        cover_sun(shades, grids, directions[d], wanted, share[d], touched[d], work)
        for p in range(grids.plane.shape[0]):
            if not wanted[p] or not touched[d, p]:
                continue
            normal = grids.frame[grids.plane[p], 3]
            facing = (
                normal[0] * directions[d, 0] + normal[1] * directions[d, 1] + normal[2] * directions[d, 2]
            )
            if facing > 0.0:
                for c in range(grids.first[p], grids.first[p + 1]):
                    sky[c] -= weight[d] * facing * share[d, c]


@kernel
def state_tables(
    kinds: Kinds,
    beam: Array,
    diffuse: Array,
    extra: Array,
    temp_c: Array,
    sky_open: Array,
    above: int,
    steps: Array,
    tables: Array,
) -> None:
    """Write current step and voltage tables of every state."""
    for s in range(beam.shape[0]):
        steps[s] = current_step(kinds, beam[s], diffuse[s], extra[s], sky_open, temp_c[s], above)
        fill_tables(kinds, temp_c[s], steps[s], above, tables[s])


@kernel
def bare_curves(
    kinds: Kinds,
    wires: Wires,
    beam: Array,
    diffuse: Array,
    extra: Array,
    temp_c: Array,
    sky_open: Array,
    steps: Array,
    tables: Array,
    curves: Array,
) -> None:
    """Write the curve of every panel (state, panel, current) on a bare roof."""
    above = curves.shape[2] - BELOW - 1
    bins = curve_work(wires, above)
    light = np.zeros(wires.branch.shape[0])
    for s in range(beam.shape[0]):
        unshaded_curves(
            kinds, wires, tables[s], beam[s], diffuse[s], extra[s], sky_open, temp_c[s], steps[s], above, light,
            curves[s], bins,
        )  # fmt: skip


@kernel
def node_curves(
    kinds: Kinds,
    wires: Wires,
    beam: Array,
    diffuse: Array,
    extra: Array,
    temp_c: Array,
    state_of: Array,
    steps: Array,
    tables: Array,
    share: Array,
    touched: Array,
    sky: Array,
    wanted: Array,
    even: Array,
    curves: Array,
) -> None:
    """Write curves (node, panel, current) of the wanted panels; a panel without beam shadow takes ``even``.

    ``even`` (state, panel, current) is the curve under the panel's own sky view with no beam lost.
    """
    above = curves.shape[2] - BELOW - 1
    bins = curve_work(wires, above)
    light = np.zeros(wires.branch.shape[0])
    none = np.zeros(wires.branch.shape[0])
    n_elevation, n_class, n_azimuth = state_of.shape
    done = -1
    for e in range(n_elevation):
        for k in range(n_class):
            for a in range(n_azimuth):
                s = state_of[e, k, a]
                node = (e * n_class + k) * n_azimuth + a
                direction = e * n_azimuth + a
                for p in range(wires.kind.shape[0]):
                    if not wanted[p]:
                        continue
                    kind = wires.kind[p]
                    if s != done:
                        panel_light(
                            wires, p, none, sky, beam[s, kind], diffuse[s, kind], extra[s, kind], light
                        )
                        panel_curve(
                            kinds, wires, p, tables[s, kind], light, True, temp_c[s, kind], steps[s], above,
                            even[s, p], bins,
                        )  # fmt: skip
                    if touched[direction, p] and beam[s, kind] > 0.0:
                        panel_light(
                            wires, p, share[direction], sky, beam[s, kind], diffuse[s, kind], extra[s, kind],
                            light,
                        )  # fmt: skip
                        panel_curve(
                            kinds, wires, p, tables[s, kind], light, False, temp_c[s, kind], steps[s], above,
                            curves[node, p], bins,
                        )  # fmt: skip
                    else:
                        curves[node, p] = even[s, p]
                done = s


@kernel
def node_power(
    plan: Plan,
    state_of: Array,
    steps: Array,
    touched: Array,
    even: Array,
    curves: Array,
    grid_v: int,
    power: Array,
    voltage: Array,
) -> None:
    """Write power and voltage (controller, node); directions without any shadow are computed once a state."""
    n_elevation, n_class, n_azimuth = state_of.shape
    n_controllers = plan.tracker.shape[0]
    strings = np.zeros((plan.string_at.shape[0], curves.shape[2]), np.float32)
    amps = np.zeros(grid_v, np.float32)
    open_p, open_v = np.zeros(n_controllers), np.zeros(n_controllers)
    done = -1
    for e in range(n_elevation):
        for k in range(n_class):
            for a in range(n_azimuth):
                s = state_of[e, k, a]
                node = (e * n_class + k) * n_azimuth + a
                if s != done:
                    for c in range(n_controllers):
                        open_p[c], open_v[c] = controller_power(even[s], steps[s], plan, c, strings, amps)
                    done = s
                for c in range(n_controllers):
                    is_shaded = False
                    for m in range(
                        plan.string_at[plan.controller_at[c]], plan.string_at[plan.controller_at[c + 1]]
                    ):
                        if touched[e * n_azimuth + a, plan.member[m]]:
                            is_shaded = True
                            break
                    if is_shaded:
                        power[c, node], voltage[c, node] = controller_power(
                            curves[node], steps[s], plan, c, strings, amps
                        )
                    else:
                        power[c, node], voltage[c, node] = open_p[c], open_v[c]


@kernel
def curves_power(plan: Plan, steps: Array, curves: Array, grid_v: int, power: Array) -> None:
    """Write power (row, controller) of plain rows of curves (row, panel, current)."""
    strings = np.zeros((plan.string_at.shape[0], curves.shape[2]), np.float32)
    amps = np.zeros(grid_v, np.float32)
    for r in range(curves.shape[0]):
        for c in range(plan.tracker.shape[0]):
            power[r, c] = controller_power(curves[r], steps[r], plan, c, strings, amps)[0]


@kernel
def scatter_energy(
    column: Array,
    rise: Array,
    turn: Array,
    part: Array,
    energy: Array,
    out: Array,
) -> None:
    """Add each sample's energy to the four nodes around it; out (column, elevation, class, azimuth).

    ``rise`` and ``turn`` are places on the elevation and azimuth grids, ``part`` the sky class.
    """
    n_elevation, n_azimuth = out.shape[1], out.shape[3]
    for i in range(energy.shape[0]):
        e = min(int(rise[i]), n_elevation - 2) if n_elevation > 1 else 0
        te = rise[i] - e
        a = int(turn[i])
        ta = turn[i] - a
        a %= n_azimuth
        b = (a + 1) % n_azimuth
        k = part[i]
        for side in range(2):
            weight = (te if side else 1.0 - te) * energy[i]
            if weight == 0.0:
                continue
            out[column[i], e + side, k, a] += weight * (1.0 - ta)
            out[column[i], e + side, k, b] += weight * ta


@kernel
def excess_energy(
    rise: Array,
    turn: Array,
    part: Array,
    weight_h: Array,
    base_w: Array,
    scale_w: Array,
    limit_w: float,
    loss: Array,
    heading_turn: Array,
    month: Array,
    out: Array,
) -> None:
    """Add the energy above a controller's power limit; loss (elevation, class, azimuth), out (month, heading)."""
    n_elevation, _, n_azimuth = loss.shape
    for i in range(rise.shape[0]):
        if base_w[i] <= limit_w:
            continue
        e = min(int(rise[i]), n_elevation - 2) if n_elevation > 1 else 0
        te = rise[i] - e
        k = part[i]
        for h in range(heading_turn.shape[0]):
            place = (turn[i] - heading_turn[h]) % n_azimuth
            a = int(place)
            ta = place - a
            a %= n_azimuth
            b = (a + 1) % n_azimuth
            low = loss[e, k, a] * (1.0 - ta) + loss[e, k, b] * ta
            high = loss[e + 1, k, a] * (1.0 - ta) + loss[e + 1, k, b] * ta if te > 0.0 else 0.0
            power = base_w[i] - scale_w[i] * (low * (1.0 - te) + high * te)
            if power > limit_w:
                out[month[i] - 1, h] += weight_h[i] * (power - limit_w)
