"""How to rank many wirings at once: each distinct string becomes current over voltage only once."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import kernel
from sizing.shade.kernels.kernel_curve import BELOW
from sizing.shade.kernels.kernel_string import HIGH_PEAK, best_on_grid, lone_string, string_currents

Array = npt.NDArray[Any]


@kernel
def string_tables(
    member: Array,
    string_at: Array,
    curves: Array,
    even: Array,
    shaded: Array,
    step_a: float,
    limits: Array,
    tracker: int,
    blocking: bool,
    line: Array,
    amps: Array,
    lone: Array,
) -> tuple[float, float]:
    """Write each distinct string's current over voltage and its best power alone; return the voltages."""
    n = even.shape[1]
    v_open = 0.0
    for s in range(string_at.shape[0] - 1):
        row = line[s]
        for j in range(n):
            row[j] = 0.0
        for m in range(string_at[s], string_at[s + 1]):
            p = member[m]
            panel = curves[p] if shaded[p] else even[p]
            for j in range(n):
                row[j] += panel[j]
        v_open = max(v_open, float(row[BELOW]))
    v_top = min(v_open, limits[1])
    v_low = max(limits[0], 0.02 * v_top)
    v_step = max(v_top - v_low, 1e-6) / (amps.shape[1] - 1)
    for s in range(string_at.shape[0] - 1):
        for k in range(amps.shape[1]):
            amps[s, k] = 0.0
        string_currents(line[s], step_a, v_low, v_step, blocking, amps[s])
        lone[s] = lone_string(line[s], step_a, tracker, limits[0], limits[1])[0]
        if line[s, BELOW] < limits[3]:
            lone[s] = 0.0
    return v_low, v_step


@kernel
def add_groupings(
    part: Array,
    tracker_at: Array,
    grouping_at: Array,
    amps: Array,
    lone: Array,
    v_low: float,
    v_step: float,
    v_max: float,
    tracker: int,
    p_max: float,
    weight: float,
    total: Array,
    energy: Array,
) -> None:
    """Add one node's weighted power to every grouping's energy.

    ``part`` lists strings, tracker after tracker; ``tracker_at`` over parts; ``grouping_at`` over trackers.
    """
    n = total.shape[0]
    for g in range(grouping_at.shape[0] - 1):
        power = 0.0
        for t in range(grouping_at[g], grouping_at[g + 1]):
            first, last = tracker_at[t], tracker_at[t + 1]
            if last - first == 1:
                power += min(lone[part[first]], p_max)
                continue
            one = amps[part[first]]
            for k in range(n):
                total[k] = one[k]
            for i in range(first + 1, last):
                one = amps[part[i]]
                for k in range(n):
                    total[k] += one[k]
            if tracker == HIGH_PEAK:
                best = best_on_grid(total, v_low, v_step, tracker, v_max)[0]
            else:
                best = grid_peak(total, v_low, v_step)
            power += min(best, p_max)
        energy[g] += weight * power


@kernel
def grid_peak(amps: Array, v_low: float, v_step: float) -> float:
    """Return the best power on a voltage grid, sharpened by a parabola."""
    n = amps.shape[0]
    best = np.float32(0.0)
    low, step = np.float32(v_low), np.float32(v_step)
    for k in range(n):
        best = max(best, amps[k] * (low + np.float32(k) * step))
    for k in range(1, n - 1):
        here = amps[k] * (low + np.float32(k) * step)
        if here >= best:
            left = amps[k - 1] * (low + np.float32(k - 1) * step)
            right = amps[k + 1] * (low + np.float32(k + 1) * step)
            bend = left - np.float32(2.0) * here + right
            if bend < 0.0:
                return float(here - np.float32(0.125) * (left - right) * (left - right) / bend)
            break
    return float(best)


@kernel
def rank_nodes(
    member: Array,
    string_at: Array,
    part: Array,
    tracker_at: Array,
    grouping_at: Array,
    limits: Array,
    tracker: int,
    p_max: float,
    blocking: bool,
    state_of: Array,
    sunlit: Array,
    steps: Array,
    touched: Array,
    even: Array,
    curves: Array,
    weight: Array,
    grid_v: int,
    energy: Array,
    piece: int,
    pieces: int,
) -> None:
    """Add the weighted power of all nodes to ``energy`` (elevation, grouping).

    ``weight`` (elevation, class, azimuth) is 0 where a node is not asked; a piece takes every so many
    elevations.
    """
    n_elevation, n_class, n_azimuth = state_of.shape
    n_sunlit = curves.shape[0] // (n_elevation * n_azimuth)
    n_strings = string_at.shape[0] - 1
    line = np.zeros((n_strings, even.shape[2]), np.float32)
    amps = np.zeros((n_strings, grid_v), np.float32)
    lone, total = np.zeros(n_strings), np.zeros(grid_v, np.float32)
    never = np.zeros(even.shape[1], np.bool_)
    for e in range(piece, n_elevation, pieces):
        for k in range(n_class):
            quiet = 0.0
            state = state_of[e, k, 0]
            for a in range(n_azimuth):
                s, share = state_of[e, k, a], weight[e, k, a]
                if share == 0.0:
                    continue
                state = s
                direction = e * n_azimuth + a
                is_shaded = False
                if k < n_sunlit and sunlit[s]:
                    for p in range(even.shape[1]):
                        is_shaded = is_shaded or touched[direction, p]
                if not is_shaded and state_of[e, k, 0] == state_of[e, k, n_azimuth - 1]:
                    quiet += share
                    continue
                shaded = touched[direction] if is_shaded else never
                row = (e * n_sunlit + k) * n_azimuth + a if is_shaded else 0
                v_low, v_step = string_tables(
                    member, string_at, curves[row], even[s], shaded, steps[s], limits, tracker, blocking,
                    line, amps, lone,
                )  # fmt: skip
                add_groupings(
                    part, tracker_at, grouping_at, amps, lone, v_low, v_step, limits[1], tracker, p_max,
                    share, total, energy[e],
                )  # fmt: skip
            if quiet > 0.0:
                v_low, v_step = string_tables(
                    member, string_at, even[state], even[state], never, steps[state], limits, tracker,
                    blocking, line, amps, lone,
                )  # fmt: skip
                add_groupings(
                    part, tracker_at, grouping_at, amps, lone, v_low, v_step, limits[1], tracker, p_max,
                    quiet, total, energy[e],
                )  # fmt: skip
