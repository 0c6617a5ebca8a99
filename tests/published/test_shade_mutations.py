"""Ten ways to get shade wrong, each of which must fail the comparison with print.

Every test breaks the engine in one place and asserts that the judgment of test_shade_scenes (brute force)
or of test_shade_typical_years (every hour) turns it down. A break that passes would mean the tests are blind.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import branch_of_cells, build_layout
from sizing.shade.engine.place import build_place
from sizing.shade.kernels.kernel_cover import outline
from sizing.shade.kernels.kernel_nodes import node_curves
from sizing.shade.scene.scene import Wiring
from sizing.shade.sky.weather import daylight_for
from tests.published.test_shade_scenes import judge, judge_order
from tests.shade_scenes import every_hour_kwh, expected, grid_kwh, in_weather, scene


def judged(name, years):
    """Hold a broken engine's years to the published answer of a scene."""
    for wiring, year in years.items():
        judge(name, wiring, year.by_heading_kwh, year.mean_unshaded_kwh)
    judge_order(name, {wiring: year.mean_kwh for wiring, year in years.items()})


def years_of(roof, *, break_layout=None, break_shadows=None, wirings=None):
    """Return a roof's years with a break applied to its layout or to its shadows."""
    layout = build_layout(roof)
    if break_layout is not None:
        layout = break_layout(layout)
    place = build_place(roof, layout, daylight_for(roof))
    shadows = cast_shadows(place, layout)
    if break_shadows is not None:
        shadows = break_shadows(place, shadows)
        shadows = curves_again(place, shadows)
    return {w.name: wiring_year(place, shadows, w) for w in wirings or roof.wirings}


def curves_again(place, shadows):
    layout, states = shadows.layout, place.states
    node_curves(
        layout.kinds, layout.wires, states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2,
        states.temp_cell_c, place.state_of, place.spacing, place.steps, place.tables, shadows.share,
        shadows.touched, shadows.sky, np.ones(layout.n_panels, np.bool_), shadows.even, shadows.curves, 0, 1,
    )  # fmt: skip
    return shadows


def test_the_engine_as_it_is_passes():
    judged("d1_small_van", years_of(scene("d1_small_van")))
    judged("d1_small_van", years_of(scene("d1_small_van"), break_shadows=lambda place, shadows: shadows))


def test_four_points_a_cell_instead_of_areas_is_caught():
    with pytest.raises(AssertionError):
        judged("d1_small_van", years_of(scene("d1_small_van"), break_shadows=four_points))


def four_points(place, shadows):
    """Replace every covered share by how many of 2 × 2 points lie in the shadow."""
    layout = shadows.layout
    grids, shades = layout.grids, layout.shades
    points = []
    for p in range(layout.n_panels):
        (u0, v0), (du, dv), (nu, nv) = grids.corner[p], grids.pitch[p], grids.cells[p]
        j, i = np.mgrid[0:nv, 0:nu]
        quarter = [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)]
        points.append(
            np.stack(
                [
                    np.stack([u0 + (i + a) * du, v0 + (j + b) * dv], axis=-1).reshape(-1, 2)
                    for a, b in quarter
                ],
                axis=1,
            )
        )
    points = np.concatenate(points)
    poly = np.zeros((len(shades.kind), 72, 2))
    for d, sun in enumerate(place.grid.directions):
        inside = np.zeros(points.shape[:2], bool)
        for k in range(len(shades.kind)):
            n = outline(shades, k, grids.frame, 0, True, sun, poly)
            if n:
                corner, after = poly[k, :n], np.roll(poly[k, :n], -1, axis=0)
                edge = after - corner
                away = points[:, :, None, :] - corner
                inside |= np.all(edge[:, 0] * away[..., 1] - edge[:, 1] * away[..., 0] >= 0, axis=-1)
        shadows.share[d] = inside.mean(axis=1)
        first = grids.first
        shadows.touched[d] = np.add.reduceat(shadows.share[d], first[:-1]) > 0
    return shadows


def test_one_class_of_sky_is_caught_by_real_weather():
    roof = in_weather(scene("d2_motorhome"), "piedmont")
    roof = replace(roof, wirings=tuple(w for w in roof.wirings if w.name in ("4s2p_ends", "2s4p_across")))
    exact, broken, whole = every_hour_kwh(roof), grid_kwh(roof, classes=(1, 0)), grid_kwh(roof)
    off = max(abs(broken[w].mean() / exact[w].mean() - 1) for w in exact)
    assert off > 0.003
    assert max(abs(whole[w].mean() / exact[w].mean() - 1) for w in exact) < 0.003


def test_bypass_diodes_that_never_conduct_are_caught():
    def no_clamp(layout):
        layout.kinds.make[:, 2] = 0
        return layout

    with pytest.raises(AssertionError):
        judged("d1_small_van", years_of(scene("d1_small_van"), break_layout=no_clamp))


def test_half_cut_branches_in_series_are_caught():
    roof = scene("d3_half_cut_south")
    kind = roof.panel_types["P410H"]
    whole = replace(roof, panel_types={"P410H": replace(kind, halves=1)})
    with pytest.raises(AssertionError):
        judged("d3_half_cut_south", years_of(whole, wirings=roof.wirings[:1]))


def test_a_flipped_heading_is_caught():
    roof = scene("d1_small_van")
    flipped = replace(roof, headings_deg=tuple((360.0 - h) % 360.0 for h in roof.headings_deg))
    with pytest.raises(AssertionError):
        judged("d1_small_van", years_of(flipped))


def test_a_mirrored_roof_is_caught():
    roof = scene("d1_small_van")
    width = roof.roof.len_y_m
    mirrored = replace(
        roof,
        obstructions=tuple(replace(o, cy_m=width - o.cy_m, yaw_deg=-o.yaw_deg) for o in roof.obstructions),
        panels=tuple(replace(p, y_m=width - p.y_m - 0.56) for p in roof.panels),
    )
    with pytest.raises(AssertionError):
        judged("d1_small_van", years_of(mirrored))


def test_bands_of_a_turned_panel_that_did_not_turn_are_caught():
    roof = scene("d3_half_cut_south")

    def unturned(layout):
        p = layout.index("C")
        kind = roof.panel_type(roof.panels[p])
        cells = slice(layout.grids.first[p], layout.grids.first[p + 1])
        layout.wires.branch[cells] = branch_of_cells(kind, 0)
        return layout

    with pytest.raises(AssertionError):
        judged("d3_half_cut_south", years_of(roof, break_layout=unturned))


def test_forgotten_shading_of_the_sky_is_caught():
    def open_sky(place, shadows):
        shadows.sky[:] = 1.0
        return shadows

    with pytest.raises(AssertionError):
        judged("d2_motorhome", years_of(scene("d2_motorhome"), break_shadows=open_sky))


def test_an_ignored_lowest_voltage_is_caught():
    roof = scene("d3_half_cut_south")
    wiring = next(w for w in roof.wirings if w.name == "4p_24V_bank")
    free = Wiring(wiring.name, tuple(replace(c, v_min_v=0.0) for c in wiring.controllers))
    with pytest.raises(AssertionError):
        judged("d3_half_cut_south", years_of(roof, wirings=(free,)))


def test_light_averaged_over_a_module_is_caught():
    def averaged(place, shadows):
        first = shadows.layout.grids.first
        for p in range(shadows.layout.n_panels):
            cells = slice(first[p], first[p + 1])
            shadows.share[:, cells] = shadows.share[:, cells].mean(axis=1, keepdims=True)
            shadows.sky[cells] = shadows.sky[cells].mean()
        return shadows

    with pytest.raises(AssertionError):
        judged("d1_small_van", years_of(scene("d1_small_van"), break_shadows=averaged))


def test_the_loss_of_electricity_is_several_times_that_of_light():
    """The published scenes say 3.5 to 11 times: an engine that averages light gives 1."""
    for name, wiring in (("d1_small_van", "4s"), ("d2_motorhome", "4s2p_sides"), ("d3_half_cut_south", "4s")):
        light = np.mean(list(expected(name)["panel_irradiation_loss_mean"].values()))
        year = years_of(scene(name))[wiring]
        assert 3.0 < (1 - year.mean_kwh / year.mean_unshaded_kwh) / light < 12.0
