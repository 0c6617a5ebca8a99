"""Knows the power of a controller where only some of its strings are in shadow: the others are added up once.

The voltages at which currents are added are those of the controller without any shadow, so that what a whole
string gives there holds for every direction of the sun.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy.typing as npt

from sizing.shade.jit import kernel
from sizing.shade.kernel_curve import BELOW
from sizing.shade.kernel_string import (
    FIXED_V,
    Plan,
    best_on_grid,
    fixed_power,
    lone_string,
    string_currents,
)

Array = npt.NDArray[Any]


class Lit(NamedTuple):
    """A wiring under one sky without any shadow."""

    lines: Array  # (string, current) [V]
    amps: Array  # (string, voltage) [A]; for controllers of several strings
    grid: Array  # (controller, 2) lowest voltage and step of the above [V]; a step of 0: none
    best: Array  # (controller, 2) power [W] and its voltage [V]


@kernel
def add_lines(panels: Array, member: Array, first: int, last: int, line: Array) -> float:
    """Write to ``line`` the summed voltage of panels ``member[first:last]``; return it at no current."""
    n = line.shape[0]
    for j in range(n):
        line[j] = 0.0
    for m in range(first, last):
        p = member[m]
        for j in range(n):
            line[j] += panels[p, j]
    return float(line[BELOW])


@kernel
def lit_power(even: Array, step_a: float, plan: Plan, c: int, whole: Lit, amps: Array) -> None:
    """Write what one controller's strings give under one sky, and its best power."""
    first, last = plan.controller_at[c], plan.controller_at[c + 1]
    v_open = 0.0
    for s in range(first, last):
        string_v = add_lines(even, plan.member, plan.string_at[s], plan.string_at[s + 1], whole.lines[s])
        v_open = max(v_open, string_v)
    v_min, v_top = plan.limits[c, 0], min(v_open, plan.limits[c, 1])
    whole.grid[c, 0] = max(v_min, 0.02 * v_top)
    whole.grid[c, 1] = (v_top - whole.grid[c, 0]) / (amps.shape[0] - 1) if v_top > v_min else 0.0
    is_added = last - first > 1 and plan.tracker[c] != FIXED_V and whole.grid[c, 1] > 0.0
    for s in range(first, last if is_added else first):
        whole.amps[s, :] = 0.0
        string_currents(
            whole.lines[s], step_a, whole.grid[c, 0], whole.grid[c, 1], plan.blocking[c], whole.amps[s]
        )
    if is_added:
        amps[:] = 0.0
        for s in range(first, last):
            for k in range(amps.shape[0]):
                amps[k] += whole.amps[s, k]
    best = lines_power(whole.lines[first:last], v_open, step_a, plan, c, whole, amps)
    whole.best[c, 0], whole.best[c, 1] = best


@kernel
def lines_power(
    lines: Array, v_open: float, step_a: float, plan: Plan, c: int, whole: Lit, amps: Array
) -> tuple[float, float]:
    """Return power and voltage of one controller from its strings' curves, or their summed currents."""
    limits, tracker = plan.limits, plan.tracker[c]
    if v_open < limits[c, 3]:
        return 0.0, 0.0
    if tracker == FIXED_V:
        return fixed_power(lines, lines.shape[0], limits[c, 2], step_a, plan.blocking[c])
    if lines.shape[0] == 1:
        return lone_string(lines[0], step_a, tracker, limits[c, 0], limits[c, 1])
    if whole.grid[c, 1] <= 0.0:
        return 0.0, 0.0
    return best_on_grid(amps, whole.grid[c, 0], whole.grid[c, 1], tracker, limits[c, 1])


@kernel
def shade_line(
    shaded: Array,
    even: Array,
    touched: Array,
    member: Array,
    first: int,
    last: int,
    whole: Array,
    line: Array,
) -> bool:
    """Write a string's curve with the shaded panels' own curves in it; return whether there are any."""
    n, count = line.shape[0], 0
    for m in range(first, last):
        count += touched[member[m]]
    is_few = 2 * count < last - first  # then exchanging them costs less than adding up all
    for j in range(n):
        line[j] = whole[j] if is_few else 0.0
    for m in range(first, last):
        p = member[m]
        if is_few and touched[p]:
            for j in range(n):
                line[j] += shaded[p, j] - even[p, j]
        elif not is_few and touched[p]:
            for j in range(n):
                line[j] += shaded[p, j]
        elif not is_few:
            for j in range(n):
                line[j] += even[p, j]
    return count > 0


@kernel
def shaded_power(
    shaded: Array,
    even: Array,
    touched: Array,
    step_a: float,
    plan: Plan,
    c: int,
    whole: Lit,
    lines: Array,
    amps: Array,
) -> tuple[float, float]:
    """Return power and voltage of one controller; ``touched`` panels have their ``shaded`` curves."""
    first, last = plan.controller_at[c], plan.controller_at[c + 1]
    is_added = last - first > 1 and plan.tracker[c] != FIXED_V and whole.grid[c, 1] > 0.0
    v_open = 0.0
    amps[:] = 0.0
    for s in range(first, last):
        line = lines[s - first]
        is_shaded = shade_line(
            shaded, even, touched, plan.member, plan.string_at[s], plan.string_at[s + 1], whole.lines[s], line
        )
        v_open = max(v_open, float(line[BELOW]))
        if is_added and is_shaded:
            string_currents(line, step_a, whole.grid[c, 0], whole.grid[c, 1], plan.blocking[c], amps)
        elif is_added:
            for k in range(amps.shape[0]):
                amps[k] += whole.amps[s, k]
    return lines_power(lines[: last - first], v_open, step_a, plan, c, whole, amps)
