"""A further wiring on the grid, quickly: parallel strings are asked only where more power can be.

Shade takes current at every voltage and a string's current falls with voltage, so two bounds hold: what the
strings give under the same sky without any beam lost, and what they gave at the nearest lower voltage asked.
The best voltage of the node before is asked first; most others are then below it by their bound.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import ONE, ZERO, kernel, plain_kernel
from sizing.shade.kernels.kernel_curve import BELOW, BENT
from sizing.shade.kernels.kernel_spacing import fill_between, first_asked
from sizing.shade.kernels.kernel_string import (
    BEST_PEAK,
    Plan,
    add_panels,
    best_on_grid,
    controller_power,
    parabola,
)

Array = npt.NDArray[Any]
SPAN, STEPS = 32, 6  # the engine's own lines are known in six steps: 32, 16, 8, 4, 2 and 1 point
FEWEST_V = 6  # the search asks four voltages at once; fewer than this are tabulated whole


class Search(NamedTuple):
    """Scratch of one thread; strings of one controller, voltages of one state of the sky."""

    lines: Array  # (strings, currents) voltage
    calm: Array  # (strings, voltages) current with no beam lost
    open_v: Array  # (strings,) with no beam lost
    volts: Array  # (voltages,)
    free: Array  # (voltages,) current of strings no shadow touches
    most: Array  # (voltages,) current of the touched strings, had they lost no beam; of all while calm
    amps: Array  # (voltages,) current of the touched strings
    power: Array  # (voltages,)
    seen: Array  # (voltages,) node at which a voltage was last asked
    picks: Array  # (voltages,) those to ask
    hit: Array  # (strings,) those touched


@kernel
def search_work(n_strings: int, n_current: int, grid_v: int) -> Search:
    """Return scratch space."""
    return Search(
        np.zeros((n_strings, n_current), np.float32),
        np.zeros((n_strings, grid_v), np.float32),
        np.zeros(n_strings, np.float32),
        np.zeros(grid_v, np.float32),
        np.zeros(grid_v, np.float32),
        np.zeros(grid_v, np.float32),
        np.zeros(grid_v, np.float32),
        np.zeros(grid_v, np.float32),
        np.full(grid_v, -1, np.int64),
        np.zeros(grid_v, np.int64),
        np.zeros(n_strings, np.int64),
    )


@plain_kernel
def further(line: Array, voltage: float, j: Any, half: Any, top: Any) -> Any:
    """Return the place that many points further, at most the top, if the line is above a voltage there."""
    there = min(j + half, top)
    return there if line[there] > voltage else j


@plain_kernel
def last_above(line: Array, voltage: float) -> Any:
    """Return the last point of a falling line above a voltage: the first where none is, the end left out.

    No branch depends on the line, so the processor works on several voltages at once; places are unsigned,
    for one that may count from the end costs three instructions more.
    """
    j, half, one, top = np.uint64(0), np.uint64(SPAN), np.uint64(1), np.uint64(line.shape[0] - 2)
    while half + half <= top:
        half += half
    while half > SPAN:
        j = further(line, voltage, j, half, top)
        half >>= one
    half = np.uint64(SPAN)
    for _ in range(STEPS):
        j = further(line, voltage, j, half, top)
        half >>= one
    return j


@plain_kernel
def add_currents(
    lines: Array,
    hit: Array,
    n_hit: int,
    volts: Array,
    picks: Array,
    n_picks: int,
    is_blocking: bool,
    out: Array,
) -> None:
    """Write to ``out[picks]`` the summed current [steps] of strings ``hit`` at voltages ``picks``.

    The same curve as :func:`sizing.shade.kernels.kernel_string.knee_part` in one division and without a
    branch: with the falls a before and b behind, and f from the grid point down to the voltage, the
    hyperbola meets it at f·(a + b)/(2ab + f·(b - a)), which for a = b is the chord.
    """
    n, one = lines.shape[1], np.uint64(1)
    most, least = np.float32(n - 1 - BELOW), np.float32(0.0 if is_blocking else -1e30)
    for i in range(n_picks):
        out[np.uint64(picks[i])] = 0.0
    for h in range(n_hit):
        line = lines[hit[h]]
        for i in range(n_picks):
            k = np.uint64(picks[i])
            j = last_above(line, volts[k])
            here = line[j]
            fall, behind = here - volts[k], max(here - line[j + one], np.float32(1e-6))
            before = line[max(j, one) - one] - here
            before = before if behind > np.float32(BENT) * before else behind
            before = before if before > np.float32(0.0) else behind  # also at the first point
            part = fall * (before + behind) / (np.float32(2.0) * before * behind + fall * (behind - before))
            out[k] += max(min(np.float32(np.int64(j) - BELOW) + part, most), least)


@kernel
def calm_state(
    even: Array, state: int, never: Array, step_a: float, plan: Plan, c: int, work: Search
) -> tuple[float, float]:
    """Write the voltages of a state of the sky and each string's current at them with no beam lost.

    Returns what all strings give together then: best power and its voltage.
    """
    first, last, grid_v = plan.controller_at[c], plan.controller_at[c + 1], work.volts.shape[0]
    v_open, v_min, v_max = 0.0, plan.limits[c, 0], plan.limits[c, 1]
    for s in range(last - first):
        start, stop = plan.string_at[first + s], plan.string_at[first + s + 1]
        add_panels(even, state, even, state, never, ZERO, plan.member, start, stop, work.lines, s)
        work.open_v[s] = work.lines[s, BELOW]
        v_open = max(v_open, float(work.open_v[s]))
    v_top = min(v_open, v_max)
    v_low = max(v_min, 0.02 * v_top)
    v_step = max(v_top - v_low, 0.0) / (grid_v - 1)
    for k in range(grid_v):
        work.volts[k], work.picks[k], work.most[k] = v_low + k * v_step, k, 0.0
    for s in range(last - first):
        work.hit[0] = s
        add_currents(
            work.lines, work.hit, ONE, work.volts, work.picks, grid_v, plan.blocking[c], work.calm[s]
        )
        for k in range(grid_v):
            work.most[k] += work.calm[s, k]
    if v_open < plan.limits[c, 3] or v_top <= v_min:
        return 0.0, 0.0
    steps, voltage = best_on_grid(work.most, v_low, v_step, BEST_PEAK, v_max)
    return steps * step_a, voltage


@kernel
def is_searched(plan: Plan, c: int, grid_v: int) -> bool:
    """Return whether a controller's strings are asked at few voltages."""
    many: bool = plan.controller_at[c + 1] - plan.controller_at[c] > 1
    return many and plan.tracker[c] == BEST_PEAK and grid_v >= FEWEST_V


@kernel
def open_power(
    even: Array, state: int, never: Array, step_a: float, plan: Plan, c: int, work: Search, sums: Array
) -> tuple[float, float]:
    """Return power and voltage of a controller in a state of the sky with no beam lost."""
    if is_searched(plan, c, work.volts.shape[0]):
        return calm_state(even, state, never, step_a, plan, c, work)
    return controller_power(even, state, even, state, never, ZERO, step_a, plan, c, work.lines, sums)


@kernel
def curves_power(plan: Plan, steps: Array, curves: Array, grid_v: int, power: Array) -> None:
    """Write power (row, controller) of plain rows of curves (row, panel, current)."""
    work = search_work(plan.string_at.shape[0], curves.shape[2], grid_v)
    sums = np.zeros(grid_v, np.float32)
    never = np.zeros((1, curves.shape[1]), np.bool_)
    for r in range(curves.shape[0]):
        for c in range(plan.tracker.shape[0]):
            power[r, c] = open_power(curves, r, never, steps[r], plan, c, work, sums)[0]


@plain_kernel
def pick(work: Search, node: int, least: Any, gap: int) -> int:
    """Pick voltages not yet asked, ``gap`` apart, whose bound is above the best power; return how many."""
    n_picks, near, before, bound = 0, -gap, np.float32(1e30), np.float32(least)
    for k in range(work.volts.shape[0]):
        if work.seen[k] == node:
            near, before = k, work.amps[k]
        elif k - near >= gap and work.volts[k] * (work.free[k] + min(before, work.most[k])) > bound:
            work.picks[n_picks] = k
            n_picks += 1
            near = k
    return n_picks


@plain_kernel
def pick_beside(work: Search, node: int, best: int) -> int:
    """Pick the best voltage's neighbors not yet asked; return how many."""
    n_picks = 0
    for k in range(max(best - 1, 0), min(best + 2, work.volts.shape[0])):
        if work.seen[k] != node:
            work.picks[n_picks] = k
            n_picks += 1
    return n_picks


@plain_kernel
def search_best(
    work: Search, n_hit: int, node: int, guess: int, step_a: float, is_blocking: bool, v_max: float
) -> tuple[float, float, int]:
    """Return best power, its voltage and place on the grid of strings in parallel, asking few voltages."""
    volts, power, picks = work.volts, work.power, work.picks
    last = volts.shape[0] - 1
    guess = min(max(guess, 3), last - 1)
    picks[0], picks[1], picks[2], picks[3] = guess // 2, guess - 1, guess, guess + 1
    n_picks, best, most_w = 4, guess, np.float32(0.0)
    for turn in range(4):  # first looks, coarse, all that may still win, neighbors of the best
        if turn == 3:
            n_picks = pick_beside(work, node, best)
        elif turn > 0:
            n_picks = pick(work, node, most_w, 3 if turn == 1 else 1)
        if n_picks > 0:
            add_currents(work.lines, work.hit, n_hit, volts, picks, n_picks, is_blocking, work.amps)
        for i in range(n_picks):
            k = picks[i]
            work.seen[k] = node
            power[k] = (work.free[k] + work.amps[k]) * volts[k]
            if power[k] > most_w:
                best, most_w = k, power[k]
    if most_w <= 0.0:
        return 0.0, 0.0, guess
    peak, voltage = float(most_w), float(volts[best])
    if 0 < best < last:
        left, right = float(power[best - 1]), float(power[best + 1])
        part, rise = parabola(left, peak, right), float(volts[1] - volts[0])
        if voltage + part * rise <= v_max:
            peak -= 0.25 * (left - right) * part
            voltage += part * rise
    return peak * step_a, voltage, best


@plain_kernel
def is_touched(plan: Plan, first: int, last: int, touched: Array, direction: int) -> bool:
    """Return whether a shadow falls on any panel of these strings."""
    found = False
    for m in range(plan.string_at[first], plan.string_at[last]):
        found |= touched[direction, plan.member[m]]
    return found


@plain_kernel
def touched_strings(
    plan: Plan, c: int, curves: Array, row: int, even: Array, state: int, touched: Array, direction: int,
    work: Search,
) -> tuple[int, float]:  # fmt: skip
    """Write the lines of touched strings and what the others give; return how many, and the open voltage."""
    free, most = work.free, work.most
    n_hit, v_open, grid_v = 0, np.float32(0.0), free.shape[0]
    for k in range(grid_v):
        free[k], most[k] = 0.0, 0.0
    first = plan.controller_at[c]
    for s in range(plan.controller_at[c + 1] - first):
        start, stop = plan.string_at[first + s], plan.string_at[first + s + 1]
        if is_touched(plan, first + s, first + s + 1, touched, direction):
            add_panels(curves, row, even, state, touched, direction, plan.member, start, stop, work.lines, s)
            work.hit[n_hit] = s
            n_hit += 1
            v_open = max(v_open, work.lines[s, BELOW])
            for k in range(grid_v):
                most[k] += work.calm[s, k]
        else:
            v_open = max(v_open, work.open_v[s])
            for k in range(grid_v):
                free[k] += work.calm[s, k]
    return n_hit, float(v_open)


@plain_kernel
def shaded_power(
    plan: Plan, c: int, curves: Array, row: int, even: Array, state: int, touched: Array, direction: int,
    work: Search, node: int, guess: int, step_a: float,
) -> tuple[float, float, int]:  # fmt: skip
    """Return power, its voltage and the place to begin next of strings in parallel, some of them touched."""
    n_hit, v_open = touched_strings(plan, c, curves, row, even, state, touched, direction, work)
    if v_open < plan.limits[c, 3]:
        return 0.0, 0.0, guess
    return search_best(work, n_hit, node, guess, step_a, plan.blocking[c], plan.limits[c, 1])


@kernel
def node_power(
    plan: Plan,
    state_of: Array,
    spacing: Array,
    sunlit: Array,
    steps: Array,
    touched: Array,
    even: Array,
    curves: Array,
    grid_v: int,
    power: Array,
    voltage: Array,
    piece: int,
    pieces: int,
) -> None:
    """Write power and voltage (controller, node); directions without any shadow are computed once a state.

    A piece takes every so many elevations; the search begins afresh at each, so no piece knows of another.
    """
    n_elevation, n_class, n_azimuth = state_of.shape
    n_sunlit = curves.shape[0] // (n_elevation * n_azimuth)
    work = search_work(plan.string_at.shape[0], curves.shape[2], grid_v)
    sums = np.zeros(grid_v, np.float32)
    never = np.zeros((1, even.shape[1]), np.bool_)
    for c in range(plan.tracker.shape[0]):
        first, last = plan.controller_at[c], plan.controller_at[c + 1]
        is_quick = is_searched(plan, c, grid_v)
        guess, open_p, open_v = 0, 0.0, 0.0
        work.seen[:] = -1
        for e in range(piece, n_elevation, pieces):
            done = -1
            for k in range(n_class):
                step, base = spacing[e, k], (e * n_class + k) * n_azimuth
                at = first_asked(e, k, step)
                for a in range(at, n_azimuth, step):
                    s = state_of[e, k, a]
                    node, direction, row = base + a, e * n_azimuth + a, (e * n_sunlit + k) * n_azimuth + a
                    if s != done:
                        open_p, open_v = open_power(even, s, never, steps[s], plan, c, work, sums)
                        guess = int((open_v - work.volts[0]) / max(work.volts[1] - work.volts[0], 1e-6))
                        done = s
                    is_lit = k < n_sunlit and sunlit[s] and open_p > 0.0
                    if not (is_lit and is_touched(plan, first, last, touched, direction)):
                        power[c, node], voltage[c, node] = open_p, open_v
                    elif is_quick:
                        power[c, node], voltage[c, node], guess = shaded_power(
                            plan, c, curves, row, even, s, touched, direction, work, node, guess, steps[s]
                        )
                    else:
                        power[c, node], voltage[c, node] = controller_power(
                            curves, row, even, s, touched, direction, steps[s], plan, c, work.lines, sums
                        )
                fill_between(power[c, base : base + n_azimuth], at, step)
                fill_between(voltage[c, base : base + n_azimuth], at, step)
