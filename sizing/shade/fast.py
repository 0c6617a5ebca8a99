"""Knows the fast year: shadows and curves of a layout on the grid, and the energy of a wiring from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizing.shade.geometry import Layout, build_plan
from sizing.shade.kernel_nodes import cover_nodes, curves_power, excess_energy, node_curves, node_power
from sizing.shade.kernel_string import Plan
from sizing.shade.place import GRID_V, MONTHS, Place
from sizing.shade.scene import FloatArray, Wiring

NO_LIMIT_W = 1e8


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """A layout on the grid: covered share, sky view, and panel curves by node."""

    layout: Layout
    share: FloatArray  # (direction, cell)
    touched: FloatArray  # (direction, panel)
    sky: FloatArray  # (cell,)
    even: FloatArray  # (state, panel, current)
    curves: FloatArray  # (node, panel, current)


@dataclass(frozen=True, slots=True, eq=False)
class WiringYear:
    """A wiring's year [kWh] (month, heading), the same on a bare roof, and its node powers [W]."""

    energy_kwh: FloatArray
    unshaded_kwh: FloatArray
    power_w: FloatArray  # (controller, node)
    voltage_v: FloatArray

    @property
    def by_heading_kwh(self) -> FloatArray:
        """Yearly energy by heading."""
        return np.asarray(self.energy_kwh.sum(axis=0))

    @property
    def mean_kwh(self) -> float:
        """Yearly energy, mean of headings."""
        return float(self.by_heading_kwh.mean())

    @property
    def mean_unshaded_kwh(self) -> float:
        """Yearly energy on a bare roof, mean of headings."""
        return float(self.unshaded_kwh.sum(axis=0).mean())


def cast_shadows(place: Place, layout: Layout, *, before: Shadows | None = None, moved: tuple[int, ...] = ()) -> Shadows:
    """Return shadows and curves; with ``before`` only the moved panels are computed again (in place)."""
    n_directions, n_panels = len(place.grid.directions), layout.n_panels
    n_nodes, n_current = place.state_of.size, place.bare.shape[2]
    wanted = np.ones(n_panels, np.bool_)
    if before is None:
        shadows = Shadows(
            layout,
            np.zeros((n_directions, layout.n_cells)),
            np.zeros((n_directions, n_panels), np.bool_),
            np.zeros(layout.n_cells),
            np.zeros((len(place.steps), n_panels, n_current), np.float32),
            np.empty((n_nodes, n_panels, n_current), np.float32),
        )
    else:
        wanted[:] = False
        wanted[list(moved)] = True
        shadows = Shadows(layout, before.share, before.touched, before.sky, before.even, before.curves)
    cells = np.repeat(wanted, np.diff(layout.grids.first))
    opened = np.repeat(place.sky_open[layout.wires.kind], np.diff(layout.grids.first))
    shadows.sky[cells] = opened[cells]
    cover_nodes(
        layout.shades, layout.grids, place.grid.directions, place.grid.sky_weight, wanted, shadows.share,
        shadows.touched, shadows.sky,
    )  # fmt: skip
    np.clip(shadows.sky, 0.0, 1.0, out=shadows.sky)
    states = place.states
    node_curves(
        layout.kinds, layout.wires, states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2, states.temp_cell_c,
        place.state_of, place.steps, place.tables, shadows.share, shadows.touched, shadows.sky, wanted,
        shadows.even, shadows.curves,
    )  # fmt: skip
    return shadows


def wiring_year(place: Place, shadows: Shadows, wiring: Wiring) -> WiringYear:
    """Return a wiring's year from the node powers: unshaded energy less the share lost at each node."""
    layout = shadows.layout
    plan = build_plan(wiring, layout)
    n_controllers, n_nodes = len(plan.tracker), place.state_of.size
    power, voltage = np.zeros((n_controllers, n_nodes)), np.zeros((n_controllers, n_nodes))
    node_power(
        plan, place.state_of, place.steps, shadows.touched, shadows.even, shadows.curves, GRID_V, power, voltage
    )
    limits = np.array([c.p_max_w for c in wiring.controllers])
    bare_state = _bare_power(place, layout, plan)
    energy = np.zeros((MONTHS, len(place.headings_deg)))
    unshaded = np.zeros_like(energy)
    full = _full_power(place, layout)
    kind_counts = np.bincount(layout.wires.kind, minlength=len(place.kinds.groups))
    total_map = np.tensordot(kind_counts, place.maps, axes=1)
    scale = place.own_w @ kind_counts
    for c in range(n_controllers):
        state_w = bare_state[:, c][place.state_of]
        if place.level:
            base = _base_power(place, layout, plan, c)
            loss = _ratio(state_w.reshape(-1) - power[c], full)
        else:
            base, loss = scale, _ratio(full - power[c], full)
            unshaded_loss = _ratio(full - state_w.reshape(-1), full)
        if place.level:
            base_energy = np.bincount(place.samples.month - 1, np.minimum(base, limits[c]) * place.samples.weight_h, MONTHS)
            raw = np.bincount(place.samples.month - 1, base * place.samples.weight_h, MONTHS)
            unshaded += base_energy[:, None] / 1000.0
        else:
            raw = _columns(place, base)
            unshaded += (raw - turn_and_sum(place, total_map, unshaded_loss)) / 1000.0
        energy += (raw[:, None] if place.level else raw) / 1000.0 - turn_and_sum(place, total_map, loss) / 1000.0
        if limits[c] < NO_LIMIT_W:
            energy -= _excess(place, base, scale, limits[c], loss) / 1000.0
            if not place.level:
                unshaded -= _excess(place, base, scale, limits[c], unshaded_loss) / 1000.0
    return WiringYear(energy, unshaded, power, voltage)


def turn_and_sum(place: Place, energy_map: FloatArray, ratio: FloatArray) -> FloatArray:
    """Return the sum over nodes of map times ratio (month, heading) [as the map]."""
    shape = place.state_of.shape
    n_azimuth = shape[2]
    if not place.level:
        flat = energy_map.reshape(len(place.headings_deg), MONTHS, -1)
        return np.asarray((flat @ ratio.reshape(-1)).T)
    turn = place.headings_deg / 360.0 * n_azimuth
    whole = np.floor(turn).astype(np.int64)
    part = turn - whole
    grid = ratio.reshape(-1, n_azimuth)
    index = (np.arange(n_azimuth)[:, None] - whole[None, :]) % n_azimuth
    turned = grid[:, index]
    if np.any(part > 0):
        turned = turned * (1.0 - part) + grid[:, (index - 1) % n_azimuth] * part
    return np.asarray(energy_map.reshape(MONTHS, -1) @ turned.reshape(-1, len(turn)))


def _ratio(loss_w: FloatArray, full_w: FloatArray) -> FloatArray:
    return np.where(full_w > 0.0, loss_w / np.maximum(full_w, 1e-12), 0.0)


def _full_power(place: Place, layout: Layout) -> FloatArray:
    """Return the sum of all panels' own best powers at every node on a bare roof [W]."""
    state = place.own_state_w[:, layout.wires.kind].sum(axis=1)
    return np.asarray(state[place.state_of].reshape(-1))


def _by_kind(plan: Plan, layout: Layout) -> Plan:
    return plan._replace(member=layout.wires.kind[plan.member])


def _bare_power(place: Place, layout: Layout, plan: Plan) -> FloatArray:
    """Return a plan's power (state, controller) on a bare roof."""
    power = np.zeros((len(place.steps), len(plan.tracker)))
    curves_power(_by_kind(plan, layout), place.steps, place.bare, GRID_V, power)
    return power


def _base_power(place: Place, layout: Layout, plan: Plan, c: int) -> FloatArray:
    """Return one controller's power of every sample on a bare roof, kept for wirings of the same make."""
    one = _one_controller(plan, c)
    by_kind = _by_kind(one, layout)
    strings = sorted(
        tuple(sorted(by_kind.member[a:b].tolist()))
        for a, b in zip(by_kind.string_at[:-1], by_kind.string_at[1:], strict=True)
    )
    key = (tuple(strings), int(one.tracker[0]), tuple(one.limits[0].tolist()), bool(one.blocking[0]))
    if key not in place.kept:
        power = np.zeros((len(place.sample_steps), 1))
        curves_power(by_kind, place.sample_steps, place.sample_bare, GRID_V, power)
        place.kept[key] = power[:, 0].copy()
    return place.kept[key]


def _one_controller(plan: Plan, c: int) -> Plan:
    first, last = int(plan.controller_at[c]), int(plan.controller_at[c + 1])
    start = plan.string_at[first]
    return Plan(
        member=plan.member[start : plan.string_at[last]],
        string_at=plan.string_at[first : last + 1] - start,
        controller_at=np.array([0, last - first], np.int64),
        tracker=plan.tracker[c : c + 1],
        limits=plan.limits[c : c + 1],
        blocking=plan.blocking[c : c + 1],
    )


def _columns(place: Place, power_w: FloatArray) -> FloatArray:
    """Return energy (month, heading) of per-sample-and-heading powers [Wh]."""
    n_headings = len(place.headings_deg)
    column = (place.samples.month - 1) * n_headings + place.samples.heading
    sums = np.bincount(column, power_w * place.samples.weight_h, minlength=MONTHS * n_headings)
    return sums.reshape(MONTHS, n_headings)


def _excess(place: Place, base: FloatArray, scale: FloatArray, limit_w: float, loss: FloatArray) -> FloatArray:
    """Return the energy above a power limit (month, heading) [Wh]."""
    samples = place.samples
    n_azimuth = place.state_of.shape[2]
    out = np.zeros((MONTHS, len(place.headings_deg)))
    shaped = np.ascontiguousarray(loss.reshape(place.state_of.shape))
    if place.level:
        turns = place.headings_deg / 360.0 * n_azimuth
        excess_energy(
            samples.rise, samples.turn, samples.part, samples.weight_h, base, scale, limit_w, shaped, turns,
            samples.month, out,
        )  # fmt: skip
        return out
    for h in range(len(place.headings_deg)):
        rows = samples.heading == h
        column = np.zeros((MONTHS, 1))
        excess_energy(
            samples.rise[rows], samples.turn[rows], samples.part[rows], samples.weight_h[rows], base[rows],
            scale[rows], limit_w, shaped, np.zeros(1), samples.month[rows], column,
        )  # fmt: skip
        out[:, h] = column[:, 0]
    return out

