"""Works out a year in order: daylight, place, shadows, wirings, panels, costs, findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sizing.shade.answers.findings import find_sentences
from sizing.shade.engine.fast import Shadows, WiringYear, cast_shadows, reference, turn_and_sum, wiring_year
from sizing.shade.engine.geometry import Layout, build_layout, build_plan
from sizing.shade.engine.known_place import place_for
from sizing.shade.engine.place import Place
from sizing.shade.kernels.kernel_nodes import panel_power
from sizing.shade.scene.chosen_wiring import main_wiring, own_wiring, with_wiring
from sizing.shade.scene.results import (
    ObstructionCost,
    PanelYear,
    ShadeResult,
    StringYear,
    WiringYearResult,
)
from sizing.shade.scene.scene import FloatArray, SceneInput, Wiring


def shade_year(scene: SceneInput, *, main: str | None = None, detail: bool = True) -> ShadeResult:
    """Return the year of a roof: energy by heading and wiring, and what costs it.

    Parameters
    ----------
    scene : SceneInput
        The roof. Without wirings each panel stands on a tracker of its own.
    main : str or None
        Name of the wiring the panels, costs and findings are told for; ``None`` takes the first.
    detail : bool
        Also work out panels, strings, costs of roof objects and findings.

    Returns
    -------
    ShadeResult
        Energies [kWh/year], headings [°], losses as fractions [-].

    Raises
    ------
    SceneError
        If the weather cannot be read or ``main`` names no wiring of the scene.

    Notes
    -----
    Share of power lost solved once per direction of the sun relative to the vehicle and class of sky, summed
    over the year's hours; unshaded energy is summed hour by hour.

    References
    ----------
    .. [1] Bishop (1988), Computer simulation of the effects of electrical mismatches in photovoltaic cell
       interconnection circuits, Solar Cells 25.
    .. [2] De Soto, Klein, Beckman (2006), Solar Energy 80, 78-88.
    """
    scene = with_wiring(scene)
    chosen = main_wiring(scene, main)
    layout = build_layout(scene)
    place = place_for(scene, layout)
    shadows = cast_shadows(place, layout)
    years = {wiring.name: wiring_year(place, shadows, wiring) for wiring in scene.wirings}
    wirings = tuple(
        _wiring_result(scene, place, wiring, years[wiring.name], layout) for wiring in scene.wirings
    )
    result = ShadeResult(
        scene=scene.name,
        method="grid",
        headings_deg=scene.headings_deg,
        main_wiring=chosen.name,
        wirings=wirings,
        ranking=tuple(w.name for w in sorted(wirings, key=lambda w: -w.mean_kwh)),
        strings=(),
        panels=(),
        obstructions=(),
        findings=(),
        own_trackers_kwh=None,
    )
    if not detail:
        return result
    own = wiring_year(place, shadows, own_wiring(layout.panel_ids))
    delivered = delivered_kwh(place, shadows, chosen, years[chosen.name])
    result = replace(
        result,
        own_trackers_kwh=own.mean_kwh,
        panels=_panel_years(scene, place, shadows, chosen, years[chosen.name], own, delivered),
        strings=_string_years(place, layout, chosen, years[chosen.name], delivered),
        obstructions=obstruction_costs(scene, place, layout, shadows, chosen, years[chosen.name]),
    )
    return replace(result, findings=find_sentences(scene, place, shadows, chosen, years[chosen.name], result))


def _wiring_result(
    scene: SceneInput, place: Place, wiring: Wiring, year: WiringYear, layout: Layout
) -> WiringYearResult:
    by_heading = year.by_heading_kwh
    worst, best = int(by_heading.argmin()), int(by_heading.argmax())
    unshaded = year.mean_unshaded_kwh
    monthly = year.energy_kwh.mean(axis=1)
    top = year.energy_kwh.max(axis=1)
    headings = np.asarray(scene.headings_deg)
    return WiringYearResult(
        name=wiring.name,
        unshaded_kwh=unshaded,
        kwh_by_heading=tuple(by_heading.tolist()),
        mean_kwh=year.mean_kwh,
        worst_kwh=float(by_heading[worst]),
        worst_heading_deg=float(headings[worst]),
        best_kwh=float(by_heading[best]),
        best_heading_deg=float(headings[best]),
        mean_loss_fraction=1.0 - year.mean_kwh / unshaded if unshaded > 0 else 0.0,
        monthly_kwh=tuple(monthly.tolist()),
        best_heading_by_month_deg=tuple(headings[year.energy_kwh.argmax(axis=1)].tolist()),
        gain_by_parking_fraction=tuple(
            float(t / m - 1.0) if m > 0 else 0.0 for t, m in zip(top, monthly, strict=True)
        ),
        controller_kwh=tuple(_controller_kwh(place, layout, year).tolist()),
    )


def _controller_kwh(place: Place, layout: Layout, year: WiringYear) -> FloatArray:
    """Return each controller's share of the wiring's mean energy [kWh]."""
    measure = reference(place, layout)
    shares = np.array(
        [
            turn_and_sum(place, measure.energy_map, p * measure.per_w, measure.spectrum).sum()
            for p in year.power_w
        ]
    )
    total = shares.sum()
    return np.asarray(shares / total * year.mean_kwh) if total > 0 else np.zeros(len(shares))


def delivered_kwh(place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear) -> FloatArray:
    """Return what each panel delivers (panel, month, heading) [kWh], summing to the wiring's energy."""
    layout = shadows.layout
    plan = build_plan(wiring, layout)
    power = np.zeros((layout.n_panels, place.state_of.size))
    panel_power(
        plan, place.state_of, place.spacing, place.sunlit, place.steps, shadows.touched, shadows.even,
        shadows.curves, year.voltage_v, power,
    )  # fmt: skip
    measure = reference(place, layout)
    shares = np.stack(
        [turn_and_sum(place, measure.energy_map, p * measure.per_w, measure.spectrum) for p in power]
    )
    total = shares.sum(axis=0)
    return np.asarray(np.where(total > 0.0, shares / np.maximum(total, 1e-12), 0.0) * year.energy_kwh)


def _panel_years(
    scene: SceneInput,
    place: Place,
    shadows: Shadows,
    wiring: Wiring,
    year: WiringYear,
    own: WiringYear,
    delivered: FloatArray,
) -> tuple[PanelYear, ...]:
    layout = shadows.layout
    own_full = _own_full(place, layout)
    own_kwh = _controller_kwh(place, layout, own)
    wired = {panel_id for c in wiring.controllers for string in c.strings for panel_id in string}
    unshaded_share = own_full / own_full[[layout.index(i) for i in wired]].sum()
    light = light_losses(place, shadows)
    made = []
    for p, panel_id in enumerate(layout.panel_ids):
        is_wired = panel_id in wired
        got = float(delivered[p].sum(axis=0).mean())
        could = float(unshaded_share[p] * year.mean_unshaded_kwh)
        made.append(
            PanelYear(
                panel_id=panel_id,
                light_loss_fraction=float(light[p]),
                own_kwh=float(own_kwh[p]),
                own_loss_fraction=float(1.0 - own_kwh[p] / own_full[p]) if own_full[p] > 0 else 0.0,
                delivered_kwh=got if is_wired else None,
                delivered_loss_fraction=1.0 - got / could if is_wired and could > 0 else None,
                marginal_kwh=_marginal_kwh(place, shadows, wiring, year, panel_id) if is_wired else None,
            )
        )
    return tuple(made)


def _own_full(place: Place, layout: Layout) -> FloatArray:
    """Return each panel's own energy on a bare roof, mean of headings [kWh]."""
    share = 1.0 if place.level else 1.0 / len(place.headings_deg)
    by_kind = place.samples.weight_h @ place.own_w * share / 1000.0
    return np.asarray(by_kind[layout.wires.kind])


def _marginal_kwh(place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear, panel_id: str) -> float:
    without = without_panel(wiring, panel_id)
    if without is None:
        return year.mean_kwh
    return year.mean_kwh - wiring_year(place, shadows, without).mean_kwh


def without_panel(wiring: Wiring, panel_id: str) -> Wiring | None:
    """Return the wiring with one panel bridged; None where nothing is left."""
    controllers = []
    for controller in wiring.controllers:
        strings = [tuple(i for i in string if i != panel_id) for string in controller.strings]
        kept = tuple(string for string in strings if string)
        if kept:
            controllers.append(replace(controller, strings=kept))
    return Wiring(f"{wiring.name} without {panel_id}", tuple(controllers)) if controllers else None


def light_losses(place: Place, shadows: Shadows) -> FloatArray:
    """Return each panel's share of usable light lost, mean of headings."""
    layout, states = shadows.layout, place.states
    n_elevation, _, n_azimuth = place.state_of.shape
    mean_share = np.add.reduceat(shadows.share, layout.grids.first[:-1], axis=1) / np.diff(layout.grids.first)
    mean_sky = np.add.reduceat(shadows.sky, layout.grids.first[:-1]) / np.diff(layout.grids.first)
    covered = mean_share[: n_elevation * n_azimuth].reshape(n_elevation, 1, n_azimuth, layout.n_panels)
    losses = []
    for p in range(layout.n_panels):
        k = int(layout.wires.kind[p])
        beam = states.beam_w_m2[:, k][place.state_of]
        sky = states.diffuse_w_m2[:, k][place.state_of]
        own = np.maximum(place.own_state_w[:, k][place.state_of], 1e-12)
        is_open = float(place.sky_open[k])
        lost = beam * covered[:, :, :, p] + sky * (is_open - mean_sky[p])
        full = beam + sky * is_open
        energy_map = place.maps[k].reshape(len(place.maps[k]), -1, n_azimuth)
        down = turn_and_sum(place, energy_map, (lost / own).reshape(-1)).sum()
        losses.append(down / max(turn_and_sum(place, energy_map, (full / own).reshape(-1)).sum(), 1e-12))
    return np.array(losses)


def _string_years(
    place: Place, layout: Layout, wiring: Wiring, year: WiringYear, delivered: FloatArray
) -> tuple[StringYear, ...]:
    own_full = _own_full(place, layout)
    members = [(c, s) for c, controller in enumerate(wiring.controllers) for s in controller.strings]
    total = sum(own_full[layout.index(i)] for _, string in members for i in string)
    made = []
    for c, string in members:
        spots = [layout.index(i) for i in string]
        got = float(delivered[spots].sum(axis=0).sum(axis=0).mean())
        could = float(own_full[spots].sum() / total * year.mean_unshaded_kwh)
        made.append(StringYear(c, string, got, could, 1.0 - got / could if could > 0 else 0.0))
    return tuple(made)


def obstruction_costs(
    scene: SceneInput, place: Place, layout: Layout, shadows: Shadows, wiring: Wiring, year: WiringYear
) -> tuple[ObstructionCost, ...]:
    """Return what each roof object costs: the year without it less the year as it is."""
    made = []
    before = _beam_by_panel(shadows)
    for index, thing in enumerate(scene.obstructions):
        rest = tuple(o for i, o in enumerate(scene.obstructions) if i != index)
        lighter = build_layout(replace(scene, obstructions=rest))
        cleared = cast_shadows(place, lighter)
        gain = wiring_year(place, cleared, wiring).mean_kwh - year.mean_kwh
        relief = before - _beam_by_panel(cleared)
        del cleared  # megabytes: not two at a time
        touched = [
            layout.panel_ids[p] for p in np.argsort(-relief) if relief[p] > 0.35 * max(relief.max(), 1e-12)
        ]
        made.append(
            ObstructionCost(
                name=thing.name or f"{thing.kind.value} {index + 1}",
                index=index,
                cost_kwh=float(gain),
                cost_fraction=float(gain / year.mean_unshaded_kwh) if year.mean_unshaded_kwh > 0 else 0.0,
                panel_ids=tuple(touched[:3]),
            )
        )
    return tuple(made)


def _beam_by_panel(shadows: Shadows) -> FloatArray:
    """Return a measure of how much of each panel is covered over all directions."""
    first = shadows.layout.grids.first
    return np.asarray(np.add.reduceat(shadows.share.sum(axis=0), first[:-1]) / np.diff(first))
