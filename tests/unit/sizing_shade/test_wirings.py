"""Ranking of wirings: agrees with working each out alone, keeps to limits, stops when told."""

from __future__ import annotations

from dataclasses import replace

import pvlib
import pytest

from sizing.shade.answers.wirings import cold_limits, open_circuit_v, rank_wirings
from sizing.shade.answers.year import shade_year
from sizing.shade.scene.groupings import StringLimits, groupings
from sizing.shade.scene.scene import Controller, PlacedPanel, SceneError, TrackerKind
from tests.shade_scenes import scene

WIDE = Controller(strings=(), v_min_v=16.0, v_max_v=250.0)


def test_the_ranking_agrees_with_the_published_wirings():
    roof = scene("d2_motorhome")
    found = rank_wirings(roof, controller=WIDE, top=200)
    by_strings = {frozenset(map(frozenset, w.strings)): w.mean_kwh for w in found.wirings}
    for wiring in shade_year(roof, detail=False).wirings:
        strings = next(w for w in roof.wirings if w.name == wiring.name).controllers
        if len(strings) == 1:
            key = frozenset(map(frozenset, strings[0].strings))
            assert by_strings[key] == pytest.approx(wiring.mean_kwh, rel=1e-3)
    assert found.is_complete
    assert found.n_tried == 1 + 35 + 105 + 1
    assert found.wirings[0].behind_kwh == 0.0
    assert found.bound_kwh > found.wirings[0].mean_kwh
    assert found.gap_fraction == pytest.approx(found.bound_kwh / found.wirings[0].mean_kwh - 1)


def test_cold_voltage_keeps_strings_short():
    """NFPA 70 (2017), table 690.7(A): up to 1.25 times the rated open-circuit voltage in deep cold."""
    roof = scene("d1_small_van")
    cell = roof.panel_types["P110"].cell
    volts = open_circuit_v(roof.panel_types["P110"])
    thermal = cell.ideality * 8.617333262e-5 * 298.15
    alone = pvlib.singlediode.bishop88_v_from_i(
        0.0, cell.light_current_a, cell.saturation_current_a, 0.0, cell.shunt_ohm, thermal
    )
    assert volts == pytest.approx(36 * float(alone), rel=1e-6)
    tight = Controller(strings=(), v_min_v=16.0, v_max_v=2.5 * volts)
    assert cold_limits(roof, tight).series_max == 2
    found = rank_wirings(roof, controller=tight)
    assert max(len(s) for w in found.wirings for s in w.strings) == 2


def test_no_grouping_within_the_limits_is_refused():
    with pytest.raises(SceneError, match="4 panels cannot be split"):
        rank_wirings(scene("d1_small_van"), limits=StringLimits(series_min=3, series_max=3))


def test_the_search_above_ten_panels_states_its_gap():
    roof = scene("d1_small_van")
    panels = tuple(
        PlacedPanel(f"P{i}", "P110", 0.3 + 1.15 * (i % 4), 0.05 + 0.6 * (i // 4), 0.06) for i in range(12)
    )
    roof = replace(roof, panels=panels, wirings=())
    limits = StringLimits(series_min=3, series_max=4)
    found = rank_wirings(roof, controller=WIDE, limits=limits, top=3)
    assert not found.is_complete
    assert 0 < found.n_tried < found.n_possible
    assert 0.0 <= found.gap_fraction < 0.2
    neighbours_first = tuple(tuple(f"P{i}" for i in range(s, s + 3)) for s in range(0, 12, 3))
    alone = replace(roof, wirings=(replace_strings(neighbours_first),))
    assert found.wirings[0].mean_kwh >= shade_year(alone, detail=False).wirings[0].mean_kwh * 0.9999


def replace_strings(strings):
    from sizing.shade.scene.scene import Wiring

    return Wiring("neighbours", (replace(WIDE, strings=strings),))


def test_a_search_told_to_stop_gives_what_it_has():
    seen = []

    def once(done, words):
        seen.append((done, words))
        return False

    found = rank_wirings(scene("d2_motorhome"), controller=WIDE, progress=once, top=2)
    assert len(seen) == 1
    assert len(found.wirings) == 2


def test_fixed_voltage_controllers_are_ranked_too():
    pwm = Controller(strings=(), kind=TrackerKind.PWM, v_pwm_v=13.5, v_max_v=60.0)
    found = rank_wirings(scene("d1_small_van"), controller=pwm)
    assert found.wirings[0].shape == "1s4p"
    assert len(list(groupings(4, StringLimits(series_max=2)))) == found.n_tried


def test_folk_rules_are_answered_with_this_roofs_numbers():
    words = " ".join(rank_wirings(scene("d1_small_van"), controller=WIDE).words)
    assert '"Parallel for shade" holds here' in words
    assert "whatever the wiring" in words
