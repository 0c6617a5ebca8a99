"""The quick search of strings in parallel against tables that leave no voltage out."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from sizing.shade.engine.fast import Shadows, cast_shadows
from sizing.shade.engine.geometry import build_layout, build_plan
from sizing.shade.engine.grid import direction_grid
from sizing.shade.engine.place import GRID_V, Place, build_place
from sizing.shade.kernels.kernel_curve import BELOW
from sizing.shade.kernels.kernel_string import Plan, controller_power, current_at
from sizing.shade.kernels.kernel_wiring import node_power
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import in_weather, scene

PARALLEL = ("4s2p_sides", "4s2p_ends", "2s4p_across", "2s4p_along", "2x_mppt_2s2p_sides", "8p_v12")
FINER = 8  # times the engine's current steps
N_NODES = 80
#: The nodes the bounds below were set at; the engine's own grid lays its elevations elsewhere. [°]
ELEVATIONS_DEG = (
    2.0, 5.0, 8.0, 12.0, 16.0, 20.0, 24.0, 28.0, 32.0, 37.0, 42.0, 47.0, 52.0, 57.0, 62.0, 67.0, 73.0, 80.0,
    86.0,
)  # fmt: skip


@cache
def roof_at(finer: int) -> tuple[Place, Shadows]:
    roof = in_weather(scene("d2_motorhome"), "boulder")
    layout = build_layout(roof)
    above = (64 - BELOW) * finer
    grid = direction_grid(ELEVATIONS_DEG, 12)
    place = build_place(roof, layout, daylight_for(roof), above=above, grid=grid, is_sparse=False)
    return place, cast_shadows(place, layout)


def plan_of(name: str) -> Plan:
    wiring = next(w for w in scene("d2_motorhome").wirings if w.name == name)
    return build_plan(wiring, roof_at(1)[1].layout)


def searched(plan: Plan, grid_v: int = GRID_V) -> np.ndarray:
    """Return power [W] (controller, node) as the engine finds it."""
    place, shadows = roof_at(1)
    power = np.zeros((len(plan.tracker), place.state_of.size))
    node_power(
        plan, place.state_of, place.spacing, place.sunlit, place.steps, shadows.touched, shadows.even,
        shadows.curves, grid_v, power, np.zeros_like(power), 0, 1,
    )  # fmt: skip
    return power


@cache
def shaded_nodes() -> np.ndarray:
    """Return the nodes (number, elevation, class, azimuth) at which a shadow takes beam."""
    place, shadows = roof_at(1)
    n_elevation, _, n_azimuth = place.state_of.shape
    is_touched = shadows.touched.any(axis=1)[: n_elevation * n_azimuth].reshape(n_elevation, 1, n_azimuth)
    is_shaded = is_touched & place.sunlit[place.state_of]
    is_shaded[:, place.n_sunlit :] = False
    return np.random.default_rng(20).permutation(np.argwhere(is_shaded))


def place_of(node: np.ndarray) -> tuple[int, int, int, int]:
    """Return the number of a node, its direction, its row of curves and its state."""
    place, (e, k, a) = roof_at(1)[0], node
    _, n_class, n_azimuth = place.state_of.shape
    row = (e * place.n_sunlit + k) * n_azimuth + a
    return (e * n_class + k) * n_azimuth + a, e * n_azimuth + a, row, int(place.state_of[e, k, a])


def lines_at(plan: Plan, node: np.ndarray, c: int, finer: int = 1, *, is_calm: bool = False) -> np.ndarray:
    """Return voltage over the currents (string, current) of a controller's strings, summed in numpy."""
    shadows = roof_at(finer)[1]
    _, direction, row, state = place_of(node)
    touched = shadows.touched[direction] & (not is_calm)
    panels = np.where(touched[:, None], shadows.curves[row], shadows.even[state]).astype(float)
    spans = zip(plan.string_at[:-1], plan.string_at[1:], strict=True)
    strings = [panels[plan.member[start:stop]].sum(axis=0) for start, stop in spans]
    return np.array(strings[plan.controller_at[c] : plan.controller_at[c + 1]])


def fine_power(plan: Plan, node: np.ndarray, c: int, n_volts: int = 1500) -> float:
    """Return the best power [W] of many voltages, by straight lines between many currents: plain numpy."""
    step_a = roof_at(FINER)[0].steps[place_of(node)[3]]
    lines = lines_at(plan, node, c, FINER)
    amps = (np.arange(lines.shape[1]) - BELOW) * step_a
    volts = np.linspace(plan.limits[c, 0], min(lines[:, BELOW].max(), plan.limits[c, 1]), n_volts)
    total = np.zeros(n_volts)
    for line in lines:
        beyond = amps[0] - (volts - line[0]) / max(line[0] - line[1], 1e-6) * step_a
        total += np.where(volts > line[0], beyond, np.interp(volts, line[::-1], amps[::-1]))
    return max(0.0, float((volts * total).max()))


def whole_power(plan: Plan, node: np.ndarray, c: int) -> float:
    """Return the best power [W] of every voltage the search may ask, none left out."""
    step_a = roof_at(1)[0].steps[place_of(node)[3]]
    v_top = min(lines_at(plan, node, c, is_calm=True)[:, BELOW].max(), plan.limits[c, 1])
    volts = np.linspace(max(plan.limits[c, 0], 0.02 * v_top), v_top, GRID_V)
    lines = lines_at(plan, node, c).astype(np.float32)
    amps = np.array([[current_at(line, v, step_a) for v in volts] for line in lines])
    power = volts * (np.maximum(amps, 0.0) if plan.blocking[c] else amps).sum(axis=0)
    best = int(power.argmax())
    if not 0 < best < GRID_V - 1:
        return max(0.0, float(power[best]))
    left, mid, right = power[best - 1 : best + 2]
    part = np.clip(0.5 * (left - right) / (left - 2 * mid + right), -0.5, 0.5)
    is_inside = volts[best] + part * (volts[1] - volts[0]) <= plan.limits[c, 1]
    return float(mid - 0.25 * (left - right) * part * is_inside)


def table_power(plan: Plan, node: np.ndarray, c: int, grid_v: int = GRID_V) -> float:
    """Return the best power [W] of every grid voltage, as trackers of other kinds are found."""
    place, shadows = roof_at(1)
    _, direction, row, state = place_of(node)
    lines = np.zeros((len(plan.string_at), shadows.even.shape[2]), np.float32)
    return controller_power(
        shadows.curves, row, shadows.even, state, shadows.touched, direction, place.steps[state], plan, c,
        lines, np.zeros(grid_v, np.float32),
    )[0]  # fmt: skip


@pytest.mark.parametrize("name", PARALLEL)
def test_power_is_that_of_brute_force(name):
    """Plain numpy: 8 times the currents, 47 times the voltages, straight lines, no bound, no voltage skipped.

    The bounds hold for the whole table of voltages too (which trackers of other kinds still use).
    """
    plan = plan_of(name)
    pairs = [(node, c) for node in shaded_nodes()[:N_NODES] for c in range(len(plan.tracker))]
    fine = np.array([fine_power(plan, *pair) for pair in pairs])
    power = searched(plan)
    search = np.array([power[c, place_of(node)[0]] for node, c in pairs])
    table = np.array([table_power(plan, *pair) for pair in pairs])
    for found in (search, table):
        off = (found - fine) / fine.max()
        assert np.abs(off).max() < 0.008
        assert np.sqrt(np.mean(off**2)) < 0.0015
        assert found.sum() == pytest.approx(fine.sum(), rel=0.0015)


@pytest.mark.parametrize("change", ["as it is", "low v_max", "blocking diodes"])
@pytest.mark.parametrize("name", PARALLEL)
def test_no_voltage_with_more_power_is_left_out(name, change):
    """Every voltage of the grid, by the scalar curve: the bounds may only leave out what cannot win."""
    plan = plan_of(name)
    if change == "low v_max":
        top_v = lines_at(plan, shaded_nodes()[0], 0, is_calm=True)[:, BELOW].max()
        plan = plan._replace(limits=plan.limits * [1, 0, 1, 1] + [0, 0.75 * top_v, 0, 0])
    elif change == "blocking diodes":
        plan = plan._replace(blocking=np.ones_like(plan.blocking))
    found = searched(plan)
    for node in shaded_nodes():  # two voltages level to 7 digits may meet another parabola: 0.06 %
        for c in range(len(plan.tracker)):
            assert found[c, place_of(node)[0]] == pytest.approx(whole_power(plan, node, c), rel=1e-3)


@pytest.mark.parametrize("grid_v", [2, 3, 5])
def test_too_few_voltages_to_search_are_all_asked(grid_v):
    plan = plan_of("4s2p_ends")
    found = searched(plan, grid_v)
    for node in shaded_nodes()[:20]:
        assert found[0, place_of(node)[0]] == pytest.approx(table_power(plan, node, 0, grid_v), rel=1e-6)
