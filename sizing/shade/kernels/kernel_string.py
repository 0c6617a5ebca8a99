"""The power of strings on a controller: voltages add along a string, currents add across strings."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import kernel, plain_kernel
from sizing.shade.kernels.kernel_curve import BELOW, BENT

Array = npt.NDArray[Any]
_NUMBERS: Array = np.arange(3)  # numpy's own, for kernels hand them to one another
BEST_PEAK, HIGH_PEAK, FIXED_V = _NUMBERS
PEAK_DROP = 0.99  # a tracker that stays at the first peak turns back when power has fallen by 1 %


class Plan(NamedTuple):
    """A wiring as arrays: panels of each string, strings of each controller, limits of each controller."""

    member: Array  # panels, string after string
    string_at: Array  # (strings + 1,)
    controller_at: Array  # (controllers + 1,) over strings
    tracker: Array  # (controllers,) BEST_PEAK, HIGH_PEAK or FIXED_V
    limits: Array  # (controllers, 4) v_min, v_max, v_pwm, v_start
    blocking: Array  # (controllers,)


@plain_kernel
def parabola(left: float, mid: float, right: float) -> float:
    """Return where between -0.5 and 0.5 the parabola through three equally spaced points peaks."""
    bend = left - 2.0 * mid + right
    if bend >= 0.0:
        return 0.0
    return min(0.5, max(-0.5, 0.5 * (left - right) / bend))


@kernel
def current_at(curve: Array, voltage: float, step_a: float) -> float:
    """Return the current of a string at a voltage; beyond the grid the first slope carries on."""
    n = curve.shape[0]
    if voltage >= curve[0]:
        slope = curve[0] - curve[1]
        return float(step_a * (-BELOW - (voltage - curve[0]) / max(slope, 1e-6)))
    if voltage <= curve[n - 1]:
        return float(step_a * (n - 1 - BELOW))
    low, high = 0, n - 1
    while high - low > 1:
        middle = (low + high) // 2
        if curve[middle] > voltage:
            low = middle
        else:
            high = middle
    return float(step_a * (low - BELOW + knee_part(curve, low, voltage)))


@kernel
def knee_part(curve: Array, j: int, voltage: float) -> float:
    """Return how far between grid currents ``j`` and ``j + 1`` the curve meets a voltage.

    Past the knee a step of current spans many volts and a chord lies far below the curve: see
    :func:`sizing.shade.kernels.kernel_curve.knee_volts`.
    """
    behind = curve[j] - curve[j + 1]
    fall = curve[j] - voltage
    if behind <= 0.0:
        return 0.0
    before = curve[j - 1] - curve[j] if j > 0 else behind
    if behind <= BENT * before or before <= 0.0:
        return float(fall / behind)
    r = (behind + before) / (behind - before)
    return float(r - 1.0 / (1.0 / r + fall / (before * r * (r + 1.0))))


@kernel
def knee_peak(curve: Array, j: int, step_a: float) -> tuple[float, float]:
    """Return best power and its voltage around grid current ``j``, on the hyperbola through its neighbors.

    With V = c - q/(r - x) and I = (i + x)·s the power peaks where (r - x)² = (i + r)·q/c.
    """
    before, behind = curve[j - 1] - curve[j], curve[j] - curve[j + 1]
    i = j - BELOW
    if behind <= BENT * before or before <= 0.0:
        left, mid, right = curve[j - 1] * (i - 1), curve[j] * i, curve[j + 1] * (i + 1)
        part = parabola(left, mid, right)
        slope = behind if part > 0.0 else before
        return float((mid - 0.25 * (left - right) * part) * step_a), float(curve[j] - part * slope)
    r = (behind + before) / (behind - before)
    q = before * r * (r + 1.0)
    c = curve[j] + q / r
    x = min(1.0, max(-1.0, r - math.sqrt((i + r) * q / c)))
    voltage = c - q / (r - x)
    return float((i + x) * step_a * voltage), float(voltage)


@kernel
def voltage_at(curve: Array, current_a: float, step_a: float) -> float:
    """Return the voltage of a curve at a current, straight between grid points."""
    place = min(max(current_a / step_a + BELOW, 0.0), curve.shape[0] - 1.001)
    j = int(place)
    return float(curve[j] + (place - j) * (curve[j + 1] - curve[j]))


@kernel
def lone_string(curve: Array, step_a: float, tracker: int, v_min: float, v_max: float) -> tuple[float, float]:
    """Return best power and its voltage of one string alone on a tracker, on the current grid."""
    n: int = curve.shape[0]
    best, at = 0.0, n
    is_settled = False
    for j in range(BELOW + 1, n):
        v = curve[j]
        if v < v_min or v <= 0.0:
            break
        if v > v_max:
            continue
        power = v * (j - BELOW)
        if power > best:
            best, at = power, j
        elif tracker == HIGH_PEAK and best > 0.0 and power < PEAK_DROP * best:
            is_settled = True
            break
    best *= step_a
    voltage = curve[at] if at < n else 0.0
    if BELOW < at < n - 1:
        peak, peak_v = knee_peak(curve, at, step_a)
        if peak > best and v_min <= peak_v <= v_max:
            best, voltage = peak, peak_v
    for edge in range(2):
        v_edge = v_min if edge == 0 else v_max
        is_inside = curve[n - 1] < v_edge < curve[BELOW]
        if is_inside and v_edge > 0.0 and not is_settled:
            power = v_edge * current_at(curve, v_edge, step_a)
            if power > best:
                best, voltage = power, v_edge
    return best, voltage


@kernel
def string_currents(
    curve: Array, step_a: float, v_low: float, v_step: float, blocking: bool, out: Array
) -> None:
    """Add the string's current at every grid voltage, highest last, walking the curve once."""
    n, k = curve.shape[0], out.shape[0] - 1
    low, rise, step = np.float32(v_low), np.float32(v_step), np.float32(step_a)
    j, v = 0, low + np.float32(k) * rise
    while k >= 0:
        while j < n - 1 and curve[j + 1] > v:
            j += 1
        if j == n - 1:
            for rest in range(k + 1):
                out[rest] += np.float32(n - 1 - BELOW) * step
            break
        behind, floor = max(curve[j] - curve[j + 1], np.float32(1e-6)), curve[j + 1]
        before = curve[j - 1] - curve[j] if j > 0 else behind
        is_bent = behind > np.float32(BENT) * before and before > 0.0
        scale, top, inverse = np.float32(1.0) / behind, np.float32(0.0), np.float32(0.0)
        if is_bent:
            top = (behind + before) / (behind - before)
            inverse = np.float32(1.0) / top
            scale = np.float32(1.0) / (before * top * (top + np.float32(1.0)))
        while k >= 0 and not floor > v:  # a curve that is no number ends too
            part = (curve[j] - v) * scale
            if is_bent:
                part = top - np.float32(1.0) / (inverse + part)
            current = np.float32(j - BELOW) + part
            if not blocking or current > 0.0:
                out[k] += current * step
            k -= 1
            v = low + np.float32(k) * rise


@kernel
def best_on_grid(amps: Array, v_low: float, v_step: float, tracker: int, v_max: float) -> tuple[float, float]:
    """Return best power and its voltage of strings in parallel from their summed currents."""
    n = amps.shape[0]
    best, at = 0.0, -1
    for k in range(n - 1, -1, -1):
        v = v_low + k * v_step
        if v > v_max:
            continue
        power = v * amps[k]
        if power > best:
            best, at = power, k
        elif tracker == HIGH_PEAK and best > 0.0 and power < PEAK_DROP * best:
            break
    if at < 0:
        return 0.0, 0.0
    voltage = v_low + at * v_step
    if 0 < at < n - 1:
        left, right = (voltage - v_step) * amps[at - 1], (voltage + v_step) * amps[at + 1]
        part = parabola(left, best, right)
        if voltage + part * v_step <= v_max:
            best -= 0.25 * (left - right) * part
            voltage += part * v_step
    return best, voltage


@plain_kernel
def add_panels(
    curves: Array,
    row: int,
    even: Array,
    state: int,
    shaded: Array,
    direction: int,
    member: Array,
    first: int,
    last: int,
    lines: Array,
    to: int,
) -> None:
    """Write to ``lines[to]`` the summed voltage of panels ``member[first:last]`` over the current grid.

    ``curves`` (row, panel, current) holds where ``shaded`` (direction, panel), else ``even`` (state, ...).
    """
    n = lines.shape[1]
    for j in range(n):
        lines[to, j] = 0.0
    for m in range(first, last):
        p = member[m]
        if shaded[direction, p]:
            for j in range(n):
                lines[to, j] += curves[row, p, j]
        else:
            for j in range(n):
                lines[to, j] += even[state, p, j]


@kernel
def controller_power(
    curves: Array,
    row: int,
    even: Array,
    state: int,
    shaded: Array,
    direction: int,
    step_a: float,
    plan: Plan,
    c: int,
    lines: Array,
    amps: Array,
) -> tuple[float, float]:
    """Return power and voltage of one controller; ``lines`` and ``amps`` are scratch."""
    member, string_at = plan.member, plan.string_at
    first, last = plan.controller_at[c], plan.controller_at[c + 1]
    v_open = 0.0
    for s in range(first, last):
        add_panels(
            curves,
            row,
            even,
            state,
            shaded,
            direction,
            member,
            string_at[s],
            string_at[s + 1],
            lines,
            s - first,
        )
        v_open = max(v_open, float(lines[s - first, BELOW]))
    limits, tracker = plan.limits, plan.tracker[c]
    v_min, v_max = limits[c, 0], limits[c, 1]
    if v_open < limits[c, 3]:
        return 0.0, 0.0
    if tracker == FIXED_V:
        return fixed_power(lines, last - first, limits[c, 2], step_a, plan.blocking[c])
    if last - first == 1:
        return lone_string(lines[0], step_a, tracker, v_min, v_max)
    v_top = min(v_open, v_max)
    if v_top <= v_min:
        return 0.0, 0.0
    v_low = max(v_min, 0.02 * v_top)
    v_step = (v_top - v_low) / (amps.shape[0] - 1)
    for k in range(amps.shape[0]):
        amps[k] = 0.0
    for s in range(last - first):
        string_currents(lines[s], step_a, v_low, v_step, plan.blocking[c], amps)
    return best_on_grid(amps, v_low, v_step, tracker, v_max)


@kernel
def fixed_power(
    lines: Array, n_strings: int, voltage: float, step_a: float, blocking: bool
) -> tuple[float, float]:
    """Return the power of strings held at one voltage."""
    total = 0.0
    for s in range(n_strings):
        current = current_at(lines[s], voltage, step_a)
        total += max(0.0, current) if blocking else current
    return max(0.0, total) * voltage, voltage
