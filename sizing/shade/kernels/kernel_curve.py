"""The current-voltage curve of a panel: cells in series, bypass diodes, half-cut branches in parallel.

With a constant shunt the diode voltage depends only on light current minus string current, so one table per
temperature serves every light level. Currents are the multiples of one step, -``below`` to ``above`` steps,
and the table's step is a whole part (``PHASES``) of it: a curve is then a sum of shifted table rows.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import kernel

Array = npt.NDArray[Any]
PHASES = 8  # table steps per current step
BELOW = 8  # current steps below zero: a weak string may be pushed backwards
T_REF_K = 298.15
BOLTZMANN_EV_K = 8.617333262e-5  # [eV/K], CODATA 2018
EG_REF_EV = 1.121  # silicon, De Soto et al. (2006)
EG_SLOPE_PER_K = 0.0002677
CLAMP_V = -0.5  # a conducting bypass diode
BALANCE_STEPS = 3
BENT = 1.3  # a fall this much steeper than the one before it counts as a knee
N_BACK = 260  # points of the reverse branch


class Kinds(NamedTuple):
    """Cell, size and bypass facts of every kind of panel, as arrays over kinds."""

    cell: Array  # (kinds, 9) IL, I0, n, Rs, Rsh, alpha, breakdown factor, voltage, exponent
    make: Array  # (kinds, 3) groups, halves, 1 where bypass diodes work
    cells: Array  # (kinds,) cells of a panel
    back_v: Array  # (kinds, N_BACK) diode voltages of the reverse branch, falling
    back_x: Array  # (kinds, N_BACK) light current minus string current there


class Wires(NamedTuple):
    """Which kind each panel is and which branch each of its cells belongs to."""

    kind: Array  # (panels,)
    first: Array  # (panels + 1,) first cell of each panel
    branch: Array  # (cells,) group * halves + half


@kernel
def light_current(cell: Array, kind: int, temp_cell_c: float) -> float:
    """Return the light current of a cell at 1 W/m² [A]."""
    amps: float = (cell[kind, 0] + cell[kind, 5] * (temp_cell_c + 273.15 - T_REF_K)) / 1000.0
    return amps


@kernel
def fill_table(kinds: Kinds, kind: int, temp_cell_c: float, step_a: float, above: int, table: Array) -> None:
    """Write diode voltage over (light current - string current); ``table[phase, r]``, reversed in r.

    ``table[ph, r]`` is the voltage at ``step/PHASES * (PHASES * (above + BELOW - r) + ph)``; the reversal
    lets a curve run forwards through memory.
    """
    cell = kinds.cell[kind]
    kelvin = temp_cell_c + 273.15
    a = cell[2] * BOLTZMANN_EV_K * kelvin
    gap = EG_REF_EV * (1.0 - EG_SLOPE_PER_K * (kelvin - T_REF_K))
    i0 = (
        cell[1]
        * (kelvin / T_REF_K) ** 3
        * math.exp(EG_REF_EV / (BOLTZMANN_EV_K * T_REF_K) - gap / (BOLTZMANN_EV_K * kelvin))
    )
    fine = step_a / PHASES
    n_low = above * PHASES
    back_v, back_x = kinds.back_v[kind], kinds.back_x[kind]
    at = 0
    for i in range(1, n_low + 1):
        x = -fine * i
        while at < N_BACK - 2 and back_x[at + 1] > x:
            at += 1
        t = (x - back_x[at]) / (back_x[at + 1] - back_x[at])
        v = back_v[at] + min(t, 1.0) * (back_v[at + 1] - back_v[at])
        whole = math.floor(-i / PHASES)
        phase = -i - whole * PHASES
        row = above + BELOW - whole
        if row < table.shape[1]:
            table[phase, row] = v
        if phase == 0 and row + 1 < table.shape[1]:
            table[PHASES, row + 1] = v
    n_high = (above + BELOW + 1) * PHASES
    dv = 0.07 * a
    grow, boost = math.exp(0.07), 1.0
    k_factor, v_br, expo, r_sh = cell[6], cell[7], cell[8], cell[4]
    v1, x1 = 0.0, 0.0
    v0, x0 = 0.0, 0.0
    count = 0
    for i in range(n_high):
        x = fine * i
        while x1 < x:
            v0, x0 = v1, x1
            count += 1
            boost *= grow
            v1 = count * dv
            x1 = i0 * (boost - 1.0) + v1 / r_sh
            if k_factor > 0.0:
                x1 += v1 / r_sh * k_factor * (1.0 - v1 / v_br) ** (-expo)
        v = v1 if x1 == x0 else v0 + (x - x0) / (x1 - x0) * (v1 - v0)
        whole = i // PHASES
        phase = i - whole * PHASES
        row = above + BELOW - whole
        if row >= 0:
            table[phase, row] = v
        if phase == 0 and row + 1 < table.shape[1]:
            table[PHASES, row + 1] = v


@kernel
def knee_volts(line: Array, j: int, part: float) -> float:
    """Return the voltage between grid currents ``j`` and ``j + 1`` of one curve.

    A knee is a hyperbola through the point before and the two around: V = c - q/(r - x), with equal current
    steps r = (a + b)/(a - b) and q = b·r·(r + 1) for the falls b before and a behind; elsewhere a line.
    """
    behind = line[j] - line[j + 1]
    before = line[j - 1] - line[j] if j > 0 else behind
    if behind <= BENT * before or before <= 0.0:
        return float(line[j] - part * behind)
    r = (behind + before) / (behind - before)
    q = before * r * (r + 1.0)
    return float(line[j] + q / r - q / (r - part))


@kernel
def balance(one: Array, two: Array, p: int, m: int, gap: float, after: float) -> float:
    """Return where after ``p`` branch one meets branch two, which runs from ``m + 1`` down to ``m``.

    ``gap`` is one less two at the start, ``after`` at the end; false position with the knees of both.
    """
    low, high = 0.0, 1.0
    part = gap / (gap - after)
    for _ in range(BALANCE_STEPS):
        here = knee_volts(one, p, part) - knee_volts(two, m, 1.0 - part)
        if here >= 0.0:
            low, gap, after = part, here, 0.6 * after
        else:
            high, after, gap = part, here, 0.6 * gap
        part = low + (high - low) * gap / max(gap - after, 1e-12)
    return part


@kernel
def parallel_curve(curve: Array, above: int) -> None:
    """Write to ``curve[2]`` the voltage of branches ``curve[0]`` and ``curve[1]`` in parallel.

    Each branch's grid has half the step of the sum. For every current the split is walked forward until both
    branches stand at the same voltage.
    """
    one, two, out = curve[0], curve[1], curve[2]
    p = -BELOW
    for j in range(-BELOW, above + 1):
        low, high = max(-BELOW, 2 * j - above), min(above, 2 * j + BELOW)
        p = max(p, low)
        while p + 1 <= high and one[p + 1 + BELOW] >= two[2 * j - p - 1 + BELOW]:
            p += 1
        here, m = one[p + BELOW], 2 * j - p - 1 + BELOW
        gap = here - two[m + 1]
        if p + 1 > high or gap < 0.0:
            out[j + BELOW] = here
            continue
        there = one[p + 1 + BELOW]
        after = there - two[m]
        part = gap / (gap - after)
        fall_one, fall_two = here - there, two[m] - two[m + 1]
        is_bent = p > -BELOW and fall_one > BENT * (one[p - 1 + BELOW] - here)
        if is_bent or (m > 0 and fall_two > BENT * (two[m - 1] - two[m])):
            part = balance(one, two, p + BELOW, m, gap, after)
            out[j + BELOW] = knee_volts(one, p + BELOW, part)
        else:
            out[j + BELOW] = here - part * fall_one


class Bins(NamedTuple):
    """Scratch of one thread: cells gathered by table row, per branch, and curves in the making."""

    filled: Array  # (branches,)
    row: Array  # (branches, cells)
    weight: Array  # (branches, cells)
    place: Array  # (branches, cells)
    curve: Array  # (3, n)


@kernel
def curve_work(wires: Wires, above: int) -> Bins:
    """Return scratch space for this scene."""
    most = 1
    branches = 1
    for p in range(wires.kind.shape[0]):
        most = max(most, wires.first[p + 1] - wires.first[p])
    for c in range(wires.branch.shape[0]):
        branches = max(branches, wires.branch[c] + 1)
    return Bins(
        np.zeros(branches, np.int64),
        np.zeros((branches, most), np.int64),
        np.zeros((branches, most)),
        np.zeros((branches, most)),
        np.zeros((3, above + BELOW + 1), np.float32),
    )


@kernel
def bin_cells(
    branch: Array,
    first: int,
    last: int,
    shift: int,
    share: Array,
    sky: Array,
    beam: float,
    diffuse: float,
    extra: float,
    top: float,
    each: float,
    count: Array,
    row: Array,
    weight: Array,
    place: Array,
) -> None:
    """Gather a panel's cells by branch (joined by ``shift`` bits) and table row; each cell weighs ``each``.

    ``beam``, ``diffuse`` and ``extra`` are in table rows.
    """
    for b in range(count.shape[0]):
        count[b] = 0
    for c in range(first, last):
        spot = beam * (1.0 - share[c]) + diffuse * sky[c] + extra
        spot = min(max(spot, 0.0), top)
        whole = int(spot)
        line = branch[c] >> shift
        n = count[line]
        b = 0
        while b < n and row[line, b] != whole:
            b += 1
        if b == n:
            row[line, n], weight[line, n], place[line, n] = whole, 0.0, 0.0
            count[line] = n + 1
        weight[line, b] += each
        place[line, b] += each * (spot - whole)


@kernel
def series_curve(
    table: Array,
    above: int,
    count: Array,
    row: Array,
    weight: Array,
    place: Array,
    branch: int,
    drop_v: float,
    line: Array,
) -> None:
    """Write the voltage of cells in series to ``line``; bins hold cells of nearly equal light.

    ``drop_v`` is what the cells' series resistance takes at one current step.
    """
    n = above + BELOW + 1
    drop = np.float32(-drop_v)
    for j in range(n):
        line[j] = drop * np.float32(j - BELOW)
    for b in range(count[branch]):
        m, phase = row[branch, b] // PHASES, row[branch, b] % PHASES
        offset = above - m
        one = table[phase, offset : offset + n]
        two = table[phase + 1, offset : offset + n]
        w1 = np.float32(place[branch, b])
        w0 = np.float32(weight[branch, b]) - w1
        for j in range(n):
            line[j] += w0 * one[j] + w1 * two[j]


@kernel
def panel_curve(
    cell: Array,
    make: Array,
    kind: int,
    branch: Array,
    first: int,
    last: int,
    table: Array,
    share: Array,
    sky: Array,
    light: tuple[float, float, float],
    temp_cell_c: float,
    step_a: float,
    is_even: bool,
    out: Array,
    filled: Array,
    row: Array,
    weight: Array,
    place: Array,
    curve: Array,
) -> None:
    """Write a panel's voltage over the current grid from the covered share and sky view of its cells.

    ``make`` (kind, 3): groups, halves, working diode. ``light`` [W/m²]: beam, diffuse and the rest.
    ``is_even``: every cell has the same light, so the branches of a half-cut group need not be balanced.
    The last five are scratch from :func:`curve_work`. Plain arrays: this is called a million times a second.
    """
    groups, halves = make[kind, 0], make[kind, 1]
    n = out.shape[0]
    above = n - BELOW - 1
    branch_step = step_a / halves
    scale = light_current(cell, kind, temp_cell_c) * PHASES / branch_step
    drop = (last - first) / (groups * halves) * cell[kind, 3] * branch_step
    is_joined = halves == 2 and is_even
    bin_cells(
        branch, first, last, 1 if is_joined else 0, share, sky, light[0] * scale, light[1] * scale,
        light[2] * scale, above * PHASES - 1e-3, 0.5 if is_joined else 1.0, filled, row, weight, place,
    )  # fmt: skip
    clamp = np.float32(CLAMP_V if make[kind, 2] else -1e9)
    for j in range(n):
        out[j] = 0.0
    line = curve[2]
    for g in range(groups):
        if halves == 1 or is_joined:
            series_curve(table, above, filled, row, weight, place, g, drop, line)
        else:
            series_curve(table, above, filled, row, weight, place, 2 * g, drop, curve[0])
            series_curve(table, above, filled, row, weight, place, 2 * g + 1, drop, curve[1])
            parallel_curve(curve, above)
        for j in range(n):
            out[j] += max(line[j], clamp)
