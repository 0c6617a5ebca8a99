"""The gridded path: shadows by direction of the sun, curves by sky state, power, the year's sum.

Node order everywhere: (elevation, azimuth) for directions, (elevation, class, azimuth) for nodes. Curves are
kept for sunlit classes only, which come first: under an overcast sky no direction differs from another.
``piece`` and ``pieces``: the kernel does every so many elevations; none reads what another writes.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import NO, kernel
from sizing.shade.kernels.kernel_cover import Grids, Shades, cover_sun, cover_work
from sizing.shade.kernels.kernel_curve import BELOW, Kinds, Wires, curve_work, panel_curve
from sizing.shade.kernels.kernel_hourly import current_step, fill_tables, unshaded_curves
from sizing.shade.kernels.kernel_spacing import fill_between, first_asked
from sizing.shade.kernels.kernel_string import Plan, current_at, voltage_at

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
    hidden: Array,
    boxes: Array,
    is_boxed: bool,
    piece: int,
    pieces: int,
) -> None:
    """Write covered share (direction, cell) and touched (direction, panel); add to hidden sky.

    ``hidden`` (elevation, cell) is the share of the sky; ``boxes`` (direction, plane, object, 4): see
    :func:`cover_sun`.
    """
    work = cover_work(shades, grids)
    first_of, plane_of, frame = grids.first, grids.plane, grids.frame
    n_azimuth = directions.shape[0] // hidden.shape[0]
    for e in range(piece, hidden.shape[0], pieces):
        for d in range(e * n_azimuth, (e + 1) * n_azimuth):
            cover_sun(shades, grids, directions[d], wanted, d, share, touched, boxes[d], is_boxed, work)
            for p in range(plane_of.shape[0]):
                if not wanted[p] or not touched[d, p]:
                    continue
                facing = 0.0
                for axis in range(3):
                    facing += frame[plane_of[p], 3, axis] * directions[d, axis]
                if facing > 0.0:
                    for c in range(first_of[p], first_of[p + 1]):
                        hidden[e, c] += weight[d] * facing * share[d, c]


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
    none = np.zeros(wires.branch.shape[0])
    for s in range(beam.shape[0]):
        unshaded_curves(
            kinds, wires, tables[s], beam[s], diffuse[s], extra[s], sky_open, temp_c[s], steps[s], none,
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
    spacing: Array,
    steps: Array,
    tables: Array,
    share: Array,
    touched: Array,
    sky: Array,
    wanted: Array,
    even: Array,
    curves: Array,
    piece: int,
    pieces: int,
) -> None:
    """Write curves (node, panel, current) of the wanted panels where a beam shadow touches them.

    ``even`` (state, panel, current) is the curve under the panel's own sky view with no beam lost; it holds
    wherever nothing touches the panel, and the node's own curve is then left unset.
    """
    bins = curve_work(wires, curves.shape[2] - BELOW - 1)
    filled, row, weight, place, line = bins.filled, bins.row, bins.weight, bins.place, bins.curve
    cell, make, kind_of, first_of, branch = kinds.cell, kinds.make, wires.kind, wires.first, wires.branch
    none = np.zeros(branch.shape[0])
    n_elevation, n_class, n_azimuth = state_of.shape
    n_sunlit = curves.shape[0] // (n_elevation * n_azimuth)
    for e in range(piece, n_elevation, pieces):
        for k in range(n_class):
            done, step = -1, spacing[e, k]
            for a in range(first_asked(e, k, step), n_azimuth, step):
                s = state_of[e, k, a]
                node, direction = (e * n_sunlit + k) * n_azimuth + a, e * n_azimuth + a
                for p in range(kind_of.shape[0]):
                    is_lit = k < n_sunlit and touched[direction, p]
                    if not wanted[p] or (s == done and not is_lit):
                        continue
                    m = kind_of[p]
                    light = (beam[s, m], diffuse[s, m], extra[s, m])
                    if s != done:
                        panel_curve(
                            cell, make, m, branch, first_of[p], first_of[p + 1], tables[s, m], none, sky,
                            light, temp_c[s, m], steps[s], NO, even[s, p], filled, row, weight, place,
                            line,
                        )  # fmt: skip
                    if is_lit and beam[s, m] > 0.0:
                        panel_curve(
                            cell, make, m, branch, first_of[p], first_of[p + 1], tables[s, m],
                            share[direction], sky, light, temp_c[s, m], steps[s], NO, curves[node, p],
                            filled, row, weight, place, line,
                        )  # fmt: skip
                done = s


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
    """Add the energy above a power limit; loss (elevation, class, azimuth), out (month, heading)."""
    n_elevation, _, n_azimuth = loss.shape
    for i in range(rise.shape[0]):
        if base_w[i] <= limit_w and base_w[i] > 0.0:
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


@kernel
def panel_power(
    plan: Plan,
    state_of: Array,
    spacing: Array,
    sunlit: Array,
    steps: Array,
    touched: Array,
    even: Array,
    curves: Array,
    voltage: Array,
    out: Array,
) -> None:
    """Write what each panel delivers (panel, node) [W] at the voltage its controller works at."""
    n_elevation, n_class, n_azimuth = state_of.shape
    n_sunlit = curves.shape[0] // (n_elevation * n_azimuth)
    n = even.shape[2]
    line = np.zeros(n, np.float32)
    for e in range(n_elevation):
        for k in range(n_class):
            step, base = spacing[e, k], (e * n_class + k) * n_azimuth
            at = first_asked(e, k, step)
            for a in range(at, n_azimuth, step):
                s = state_of[e, k, a]
                node, direction = base + a, e * n_azimuth + a
                lit = k < n_sunlit and sunlit[s]
                row = (e * n_sunlit + k) * n_azimuth + a if lit else 0
                for c in range(plan.tracker.shape[0]):
                    if voltage[c, node] <= 0.0:
                        continue
                    for t in range(plan.controller_at[c], plan.controller_at[c + 1]):
                        for j in range(n):
                            line[j] = 0.0
                        for m in range(plan.string_at[t], plan.string_at[t + 1]):
                            p = plan.member[m]
                            panel = curves[row, p] if lit and touched[direction, p] else even[s, p]
                            for j in range(n):
                                line[j] += panel[j]
                        current = current_at(line, voltage[c, node], steps[s])
                        if plan.blocking[c] and current < 0.0:
                            current = 0.0
                        for m in range(plan.string_at[t], plan.string_at[t + 1]):
                            p = plan.member[m]
                            panel = curves[row, p] if lit and touched[direction, p] else even[s, p]
                            out[p, node] = current * voltage_at(panel, current, steps[s])
            for p in range(out.shape[0]):
                fill_between(out[p, base : base + n_azimuth], at, step)
