"""Laws of shade that hold for any roof: hypothesis draws the roofs and the shadows."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.place import build_place
from sizing.shade.scene.scene import (
    Controller,
    Obstruction,
    ObstructionKind,
    PlacedPanel,
    Roof,
    Wiring,
)
from sizing.shade.sky.weather import daylight_for
from tests.published.test_shade_unshaded_pvlib import pvlib_best_w
from tests.shade_scenes import array_power_w, panel_type, scene

LENGTH, WIDTH = 4.0, 2.2
KIND = panel_type(nx=6, ny=4)
BASE = replace(
    scene("d1_small_van"),
    roof=Roof(LENGTH, WIDTH),
    panel_types={"T": KIND},
    panels=(),
    obstructions=(),
    wirings=(),
)
STRINGS = (("A", "B"), ("C",))
WIRING = Wiring("w", (Controller(strings=STRINGS[:1]), Controller(strings=STRINGS[1:])))
quick = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])

metres = st.floats(0.0, 1.0)


@st.composite
def things(draw, h=None):
    kind = draw(st.sampled_from(list(ObstructionKind)))
    is_box = kind == ObstructionKind.BOX
    return Obstruction(
        kind=kind,
        cx_m=draw(metres) * LENGTH,
        cy_m=draw(metres) * WIDTH,
        h_m=h if h is not None else draw(st.floats(0.05, 1.5)),
        lx_m=draw(st.floats(0.05, 1.2)) if is_box else 0.0,
        ly_m=draw(st.floats(0.05, 1.2)) if is_box else 0.0,
        r_m=0.0 if is_box else draw(st.floats(0.02, 0.5)),
        yaw_deg=draw(st.floats(-90, 90)) if is_box else 0.0,
    )


@st.composite
def roofs(draw):
    panels = tuple(
        PlacedPanel(
            name,
            "T",
            draw(metres) * (LENGTH - 1.1),
            draw(metres) * (WIDTH - 1.1),
            0.06,
            draw(st.sampled_from([0, 90])),
        )
        for name in "ABC"
    )
    return replace(BASE, panels=panels, obstructions=tuple(draw(st.lists(things(), min_size=1, max_size=3))))


@cache
def place():
    panels = tuple(PlacedPanel(name, "T", 0.0, 0.0, 0.06) for name in "ABC")
    roof = replace(BASE, panels=panels)
    return build_place(roof, build_layout(roof), daylight_for(roof))


def year(roof, wiring=WIRING):
    return wiring_year(place(), cast_shadows(place(), build_layout(roof)), wiring)


@quick
@given(roofs())
def test_shade_never_adds_energy(roof):
    shaded, bare = year(roof), year(replace(roof, obstructions=()))
    assert np.all(shaded.energy_kwh <= bare.energy_kwh * (1 + 1e-3) + 1e-6)
    assert np.all(shaded.energy_kwh <= shaded.unshaded_kwh * (1 + 1e-3) + 1e-6)


@quick
@given(roofs(), st.floats(1.05, 3.0))
def test_a_taller_thing_never_helps(roof, growth):
    first = roof.obstructions[0]
    taller = replace(roof, obstructions=(replace(first, h_m=first.h_m * growth), *roof.obstructions[1:]))
    assert np.all(year(taller).by_heading_kwh <= year(roof).by_heading_kwh * (1 + 5e-4))


@quick
@given(roofs())
def test_a_roof_turned_half_round_and_parked_the_other_way_is_the_same(roof):
    def size(panel):
        return (KIND.len_x_m, KIND.len_y_m) if panel.rot_deg == 0 else (KIND.len_y_m, KIND.len_x_m)

    turned = replace(
        roof,
        panels=tuple(
            replace(p, x_m=LENGTH - p.x_m - size(p)[0], y_m=WIDTH - p.y_m - size(p)[1]) for p in roof.panels
        ),
        obstructions=tuple(replace(o, cx_m=LENGTH - o.cx_m, cy_m=WIDTH - o.cy_m) for o in roof.obstructions),
    )
    assert np.roll(year(turned).by_heading_kwh, 12) == pytest.approx(year(roof).by_heading_kwh, rel=1e-5)


@quick
@given(roofs())
def test_a_roof_turned_a_quarter_and_parked_a_quarter_back_is_the_same(roof):
    """Content turned counter-clockwise, so that x becomes y; the heading goes a quarter clockwise."""

    def turn(panel):
        high = KIND.len_y_m if panel.rot_deg == 0 else KIND.len_x_m
        return replace(panel, x_m=5.0 - panel.y_m - high, y_m=panel.x_m, rot_deg=90 - panel.rot_deg)

    turned = replace(
        roof,
        panels=tuple(turn(p) for p in roof.panels),
        obstructions=tuple(
            replace(o, cx_m=5.0 - o.cy_m, cy_m=o.cx_m, yaw_deg=o.yaw_deg + 90.0) for o in roof.obstructions
        ),
    )
    assert np.roll(year(turned).by_heading_kwh, -6) == pytest.approx(year(roof).by_heading_kwh, rel=1e-5)


@quick
@given(roofs())
def test_a_mirrored_roof_mirrors_the_answer(roof):
    """Power at a relative azimuth of the sun is the mirrored roof's at the opposite azimuth."""

    def high(panel):
        return KIND.len_y_m if panel.rot_deg == 0 else KIND.len_x_m

    mirrored = replace(
        roof,
        panels=tuple(replace(p, y_m=WIDTH - p.y_m - high(p)) for p in roof.panels),
        obstructions=tuple(replace(o, cy_m=WIDTH - o.cy_m, yaw_deg=-o.yaw_deg) for o in roof.obstructions),
    )
    shape = (2, *place().state_of.shape)
    ours, theirs = year(roof).power_w.reshape(shape), year(mirrored).power_w.reshape(shape)
    back = (-np.arange(shape[-1])) % shape[-1]
    assert theirs[..., back] == pytest.approx(ours, rel=1e-4, abs=1e-3)


@quick
@given(roofs(), st.floats(0.0, 0.06), st.floats(30.0, 45.0))
def test_a_thing_whose_shadow_reaches_no_panel_changes_nothing(roof, low_m, away_m):
    before = year(roof).by_heading_kwh
    flat = Obstruction(ObstructionKind.BOX, 1.0, 1.0, low_m, 0.5, 0.5)
    far = Obstruction(ObstructionKind.CYLINDER, away_m, 1.0, 0.9, r_m=0.3)
    more = replace(roof, obstructions=(*roof.obstructions, flat, far))
    assert year(more).by_heading_kwh == pytest.approx(before, rel=1e-9)


shares = st.dictionaries(
    st.tuples(st.integers(0, 3), st.integers(0, 23)), st.floats(0.0, 1.0), min_size=1, max_size=40
)
lights = st.tuples(st.floats(50.0, 1000.0), st.floats(5.0, 300.0), st.floats(-20.0, 70.0))
PAIRS = [[0, 1], [2, 3]]


def power(kind, shaded, light, strings=PAIRS):
    return array_power_w(
        kind, strings, shaded, beam_w_m2=light[0], diffuse_w_m2=light[1], temp_cell_c=light[2]
    )


@settings(max_examples=40, deadline=None)
@given(shares, lights)
def test_an_array_never_gives_more_than_its_cells_could_alone(shaded, light):
    beam, diffuse, temp = light
    cells = np.full((4, 24), beam + diffuse)
    for (p, c), share in shaded.items():
        cells[p, c] = beam * (1 - share) + diffuse
    most = pvlib_best_w(KIND.cell, 1, 1, cells.ravel(), temp).sum()
    assert power(KIND, shaded, light) <= most * 1.0005


@settings(max_examples=40, deadline=None)
@given(shares, lights)
def test_a_working_diode_never_hurts(shaded, light):
    none = power(replace(KIND, n_bypass=0), shaded, light)
    assert power(replace(KIND, n_bypass=1), shaded, light) >= none * 0.9995


@settings(max_examples=40, deadline=None)
@given(shares, lights)
def test_a_second_diode_hurts_at_most_by_its_own_drop(shaded, light):
    """A panel dark from end to end is bridged by two drops instead of one: half a volt more."""
    one, two = (power(replace(KIND, n_bypass=n), shaded, light) for n in (1, 2))
    drop_w = 4 * 0.5 * 6.0 * (light[0] + light[1]) / 1000
    assert two >= one - drop_w - 1e-3 * one


@settings(max_examples=40, deadline=None)
@given(shares, lights, st.floats(0.0, 1.0))
def test_more_shade_never_helps_at_the_best_peak(shaded, light, keep):
    less = {cell: share * keep for cell, share in shaded.items()}
    assert power(KIND, shaded, light) <= power(KIND, less, light) * 1.001 + 1e-6
