"""The fast year: shadows and curves of a layout on the grid, and the energy of a wiring from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.engine.cover import cover_grid
from sizing.shade.engine.geometry import Layout, build_plan, empty_boxes
from sizing.shade.engine.place import GRID_V, MONTHS, Place
from sizing.shade.engine.threads import in_pieces
from sizing.shade.kernels.kernel_nodes import excess_energy, node_curves, scatter_energy
from sizing.shade.kernels.kernel_string import Plan
from sizing.shade.kernels.kernel_wiring import curves_power, node_power
from sizing.shade.scene.scene import FloatArray, Wiring

NO_LIMIT_W = 1e8
ComplexArray = npt.NDArray[np.complex128]


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """A layout on the grid: covered share, sky view, and panel curves by node."""

    layout: Layout
    share: FloatArray  # (direction, cell)
    touched: npt.NDArray[np.bool_]  # (direction, panel)
    sky: FloatArray  # (cell,)
    even: FloatArray  # (state, panel, current)
    curves: FloatArray  # (sunlit node, panel, current)
    boxes: FloatArray  # (direction, plane, object, 4) of the shadow outlines


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


def cast_shadows(
    place: Place, layout: Layout, *, before: Shadows | None = None, moved: tuple[int, ...] = ()
) -> Shadows:
    """Return shadows and curves; with ``before`` only the moved panels are computed again (in place)."""
    n_directions, n_panels = len(place.grid.directions), layout.n_panels
    n_nodes, n_current = place.state_of[:, : place.n_sunlit].size, place.bare.shape[2]
    wanted = np.ones(n_panels, np.bool_)
    is_boxed = False
    if before is None:
        shadows = Shadows(
            layout,
            np.zeros((n_directions, layout.n_cells)),
            np.zeros((n_directions, n_panels), np.bool_),
            np.zeros(layout.n_cells),
            np.zeros((len(place.steps), n_panels, n_current), np.float32),
            np.empty((n_nodes, n_panels, n_current), np.float32),
            empty_boxes(layout, n_directions),
        )
    else:
        wanted[:] = False
        wanted[list(moved)] = True
        is_boxed = np.array_equal(layout.grids.frame, before.layout.grids.frame)
        boxes = before.boxes if is_boxed else empty_boxes(layout, n_directions)
        shadows = Shadows(layout, before.share, before.touched, before.sky, before.even, before.curves, boxes)
    cells = np.repeat(wanted, np.diff(layout.grids.first))
    opened = np.repeat(place.sky_open[layout.wires.kind], np.diff(layout.grids.first))
    shadows.sky[cells] = opened[cells]
    shadows.sky[:] -= cover_grid(
        layout.shades, layout.grids, place.grid, wanted, shadows.share, shadows.touched, shadows.boxes,
        is_boxed=is_boxed,
    )  # fmt: skip
    np.clip(shadows.sky, 0.0, 1.0, out=shadows.sky)
    states = place.states
    in_pieces(
        node_curves, layout.kinds, layout.wires, states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2,
        states.temp_cell_c, place.state_of, place.spacing, place.steps, place.tables, shadows.share,
        shadows.touched, shadows.sky, wanted, shadows.even, shadows.curves,
    )  # fmt: skip
    return shadows


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """What a set of panels would give at its own best powers on a bare roof: the measure of every loss."""

    energy_map: FloatArray  # (column, row, azimuth) [Wh]
    sample_w: FloatArray
    node_w: FloatArray  # (node,)
    per_w: FloatArray  # (node,) one over that; 0 where there is none
    spectrum: ComplexArray | None  # of the map over azimuth, on the level


def reference(place: Place, layout: Layout) -> Reference:
    """Return the measure for a layout's panels, kept by how many panels of each kind there are."""
    counts = np.bincount(layout.wires.kind, minlength=len(place.kinds.cells))
    key = tuple(counts.tolist())
    if key not in place.references:
        n_azimuth = place.state_of.shape[2]
        total = np.tensordot(counts, place.maps, axes=1)
        total = total.reshape(len(total), -1, n_azimuth)
        node_w = (place.own_state_w @ counts)[place.state_of].reshape(-1)
        per_w = np.where(node_w > 0.0, 1.0 / np.maximum(node_w, 1e-12), 0.0)
        spectrum = map_spectrum(total) if place.level else None
        place.references[key] = Reference(total, place.own_w @ counts, node_w, per_w, spectrum)
    found: Reference = place.references[key]
    return found


def wiring_year(place: Place, shadows: Shadows, wiring: Wiring) -> WiringYear:
    """Return a wiring's year from the node powers: unshaded energy less the share lost at each node."""
    layout = shadows.layout
    asked = build_plan(wiring, layout)
    plan = _always_on(asked) if place.level else asked
    n_controllers, n_nodes = len(plan.tracker), place.state_of.size
    power, voltage = np.zeros((n_controllers, n_nodes)), np.zeros((n_controllers, n_nodes))
    in_pieces(
        node_power, plan, place.state_of, place.spacing, place.sunlit, place.steps, shadows.touched,
        shadows.even, shadows.curves, GRID_V, power, voltage,
    )  # fmt: skip
    measure = reference(place, layout)
    calm = [bare_power(place, layout, plan, c) for c in range(n_controllers)]
    limits = np.array([c.p_max_w for c in wiring.controllers])
    if place.level:
        energy, unshaded = _level_year(place, layout, asked, limits, measure, calm, power)
    else:
        energy = _turned_year(place, limits, measure, power)
        spread = np.stack([bare.state_w[place.state_of.reshape(-1)] for bare in calm])
        unshaded = _turned_year(place, limits, measure, spread)
    return WiringYear(energy, unshaded, power, voltage)


def _level_year(
    place: Place,
    layout: Layout,
    plan: Plan,
    limits: FloatArray,
    measure: Reference,
    calm: list[Bare],
    power: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return energy and unshaded energy (month, heading) [kWh]: exact unshaded sums, gridded losses.

    Whether a controller starts is decided sample by sample on the bare roof, since a node's mean temperature
    would start all its samples or none.
    """
    raw, cut = np.zeros(MONTHS), np.zeros(MONTHS)
    loss = np.zeros(place.state_of.size)
    lost = np.zeros((MONTHS, len(place.headings_deg)))
    for c in range(len(plan.tracker)):
        base = calm[c] if plan.limits[c, 3] <= 0.0 else bare_power(place, layout, plan, c)
        one = (calm[c].state_w[place.state_of].reshape(-1) - power[c]) * measure.per_w
        raw += base.month_wh
        is_on = _is_on(base, calm[c])
        if is_on is None:
            loss += one
        else:
            lost += turn_and_sum(place, _map_while(place, measure, is_on), one)
        if limits[c] < NO_LIMIT_W:
            cut += _month_sums(place, np.minimum(base.sample_w, limits[c]))
            lost += _excess(place, base.sample_w, measure.sample_w, limits[c], one)
        else:
            cut += base.month_wh
    lost += turn_and_sum(place, measure.energy_map, loss, measure.spectrum)
    return (raw[:, None] - lost) / 1000.0, np.repeat(cut[:, None], lost.shape[1], axis=1) / 1000.0


def _always_on(plan: Plan) -> Plan:
    limits = plan.limits.copy()
    limits[:, 3] = 0.0
    return plan._replace(limits=limits)


def _is_on(base: Bare, calm: Bare) -> npt.NDArray[np.bool_] | None:
    """Return at which samples a controller starts, which would give ``calm``; None where it always does."""
    if base is calm:
        return None
    is_on = (base.sample_w > 0.0) | (calm.sample_w <= 0.0)
    return None if is_on.all() else is_on


def _map_while(place: Place, measure: Reference, is_on: npt.NDArray[np.bool_]) -> FloatArray:
    """Return the measure's energy map of some of the samples only."""
    samples, shape = place.samples, place.state_of.shape
    made = np.zeros((MONTHS, *shape))
    energy = np.where(is_on, measure.sample_w * samples.weight_h, 0.0)
    scatter_energy(samples.month - 1, samples.rise, samples.turn, samples.part, energy, made)
    return made.reshape(MONTHS, -1, shape[2])


def _turned_year(place: Place, limits: FloatArray, measure: Reference, power: FloatArray) -> FloatArray:
    """Return energy (month, heading) [kWh] off the level: the measure times gridded shares."""
    share = power.sum(axis=0) * measure.per_w
    energy = turn_and_sum(place, measure.energy_map, share)
    for c in np.flatnonzero(limits < NO_LIMIT_W):
        lost = -power[c] * measure.per_w
        energy = energy - _excess(place, np.zeros(len(measure.sample_w)), measure.sample_w, limits[c], lost)
    return np.asarray(energy / 1000.0)


def turn_and_sum(
    place: Place, energy_map: FloatArray, ratio: FloatArray, spectrum: ComplexArray | None = None
) -> FloatArray:
    """Return the sum over nodes of map times ratio (month, heading) [as the map].

    On the level every heading turns the map against the ratio: a circular correlation, a product of spectra.
    """
    n_azimuth, n_headings = place.state_of.shape[2], len(place.headings_deg)
    if not place.level:
        flat = energy_map.reshape(n_headings, MONTHS, -1)
        return np.asarray(np.einsum("hmx,x->mh", flat, ratio))
    spectrum = map_spectrum(energy_map) if spectrum is None else spectrum
    turned = np.fft.rfft(ratio.reshape(-1, n_azimuth), axis=1).conj().T
    sums = np.fft.irfft((spectrum @ turned[:, :, None])[:, :, 0].T, n_azimuth, axis=1)
    turns = place.headings_deg / 360.0 * n_azimuth
    whole = np.floor(turns).astype(np.int64)
    part = turns - whole
    return np.asarray(sums[:, whole % n_azimuth] * (1.0 - part) + sums[:, (whole + 1) % n_azimuth] * part)


def map_spectrum(energy_map: FloatArray) -> ComplexArray:
    """Return the spectrum over azimuth (frequency, column, row) of a map (column, row, azimuth)."""
    return np.ascontiguousarray(np.fft.rfft(energy_map, axis=2).transpose(2, 0, 1))


@dataclass(frozen=True, slots=True, eq=False)
class Bare:
    """What one controller gives on a bare roof, by state and by sample; the samples only on the level."""

    state_w: FloatArray
    sample_w: FloatArray
    month_wh: FloatArray


def bare_power(place: Place, layout: Layout, plan: Plan, c: int) -> Bare:
    """Return what one controller of a plan gives on a bare roof, kept for wirings of the same make."""
    one = _one_controller(plan, c)
    by_kind = one._replace(member=layout.wires.kind[one.member])
    key = _make_key(by_kind)
    if key not in place.kept:
        state_w = _power_of(by_kind, place.steps, place.bare)
        sample_w = _power_of(by_kind, place.sample_steps, place.sample_bare)
        month_wh = _month_sums(place, sample_w) if place.level else np.zeros(MONTHS)
        place.kept[key] = Bare(state_w, sample_w, month_wh)
    kept: Bare = place.kept[key]
    return kept


def _power_of(by_kind: Plan, steps: FloatArray, curves: FloatArray) -> FloatArray:
    power = np.zeros((len(steps), 1))
    curves_power(by_kind, steps, curves, GRID_V, power)
    return power[:, 0].copy()


def _month_sums(place: Place, sample_w: FloatArray) -> FloatArray:
    return np.bincount(place.samples.month - 1, sample_w * place.samples.weight_h, MONTHS)


def _make_key(by_kind: Plan) -> tuple[Any, ...]:
    """Return what the power of one controller on a bare roof depends on."""
    strings = sorted(
        tuple(sorted(by_kind.member[a:b].tolist()))
        for a, b in zip(by_kind.string_at[:-1], by_kind.string_at[1:], strict=True)
    )
    facts = (int(by_kind.tracker[0]), tuple(by_kind.limits[0].tolist()), bool(by_kind.blocking[0]))
    return (tuple(strings), *facts)


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


def _excess(
    place: Place, base: FloatArray, scale: FloatArray, limit_w: float, loss: FloatArray
) -> FloatArray:
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
