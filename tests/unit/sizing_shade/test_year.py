"""The year of a roof: parts add up, objects and panels are blamed rightly, the moving panel is followed."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from sizing.shade.answers.check import shade_check
from sizing.shade.answers.live import live_year
from sizing.shade.answers.maps import beam_lost_map
from sizing.shade.answers.year import shade_year
from sizing.shade.scene.scene import (
    Controller,
    Obstruction,
    ObstructionKind,
    SceneError,
    TrackerKind,
    Wiring,
)
from tests.shade_scenes import expected, scene


@pytest.fixture(scope="module")
def van():
    return shade_year(scene("d1_small_van"), main="2s2p_cross")


def test_parts_add_up(van):
    wiring = van.wiring("2s2p_cross")
    assert sum(p.delivered_kwh for p in van.panels) == pytest.approx(wiring.mean_kwh, rel=1e-6)
    assert sum(s.delivered_kwh for s in van.strings) == pytest.approx(wiring.mean_kwh, rel=1e-6)
    assert sum(s.unshaded_kwh for s in van.strings) == pytest.approx(wiring.unshaded_kwh, rel=1e-6)
    assert sum(wiring.monthly_kwh) == pytest.approx(wiring.mean_kwh, rel=1e-9)
    assert sum(wiring.controller_kwh) == pytest.approx(wiring.mean_kwh, rel=1e-9)
    assert sum(p.own_kwh for p in van.panels) == pytest.approx(van.own_trackers_kwh, rel=1e-9)


def test_no_wiring_passes_the_bound(van):
    assert all(w.mean_kwh <= van.own_trackers_kwh * 1.0005 for w in van.wirings)


def test_the_result_is_plain_json(van):
    again = json.loads(json.dumps(van.to_json()))
    assert again["ranking"] == expected("d1_small_van")["ranking_by_mean"]


def test_what_an_object_costs_is_the_year_without_it(van):
    roof = scene("d1_small_van")
    cost = {o.name: o.cost_kwh for o in van.obstructions}
    rest = replace(roof, obstructions=roof.obstructions[1:])
    gain = shade_year(rest, detail=False).wiring("2s2p_cross").mean_kwh - van.wiring("2s2p_cross").mean_kwh
    assert cost["box 1"] == pytest.approx(gain, rel=1e-6)
    assert cost["box 1"] > 10 * cost["box 2"] > 0
    assert van.findings[0].obstruction == "box 1"


def test_a_scene_without_objects_loses_nothing():
    bare = shade_year(replace(scene("d1_small_van"), obstructions=()))
    for wiring in bare.wirings:
        assert wiring.mean_kwh == pytest.approx(wiring.unshaded_kwh, rel=1e-9)
        assert wiring.mean_loss_fraction == pytest.approx(0.0, abs=1e-9)
    assert all(p.light_loss_fraction == 0.0 for p in bare.panels)
    assert not [f for f in bare.findings if f.kind in ("obstruction", "two_sided_string", "light")]


def test_without_wirings_each_panel_has_its_own_tracker():
    found = shade_year(replace(scene("d1_small_van"), wirings=()))
    assert found.main_wiring == "own trackers"
    assert found.wirings[0].mean_kwh == pytest.approx(found.own_trackers_kwh, rel=1e-9)


def test_a_string_shaded_from_both_sides_is_told_with_hours_and_panels():
    found = shade_year(scene("d2_motorhome"), main="4s2p_ends")
    told = [f for f in found.findings if f.kind == "two_sided_string"]
    assert len(told) == 2
    first = next(finding.sentence for finding in told if finding.sentence.startswith("String 1 "))
    assert "sun at the right mostly panel F" in first
    assert "sun at the left mostly panel B" in first
    assert "of the morning" in first
    assert "of the afternoon" in first


def test_a_proposed_swap_gives_what_it_promises():
    roof = scene("d2_motorhome")
    found = shade_year(roof, main="4s2p_sides")
    swap = next(f for f in found.findings if f.kind == "swap")
    one, two = swap.panel_ids
    other = {one: two, two: one}
    main = next(w for w in roof.wirings if w.name == "4s2p_sides")
    controller = main.controllers[0]
    strings = tuple(tuple(other.get(i, i) for i in string) for string in controller.strings)
    swapped = replace(roof, wirings=(Wiring("swapped", (replace(controller, strings=strings),)),))
    gain = shade_year(swapped, detail=False).wirings[0].mean_kwh - found.wiring("4s2p_sides").mean_kwh
    assert gain == pytest.approx(swap.gain_kwh, rel=1e-6)
    assert gain > 50.0


def test_a_wiring_that_is_not_there_is_refused():
    with pytest.raises(SceneError, match="has none named '9s'"):
        shade_year(scene("d1_small_van"), main="9s")


def test_a_moved_panel_is_followed_and_costs_only_itself():
    roof = scene("d1_small_van")
    live_year(roof, wiring="2s2p_cross")
    moved = replace(roof, panels=(replace(roof.panels[0], x_m=1.2), *roof.panels[1:]))
    after = live_year(moved, wiring="2s2p_cross")
    assert after.panels_recomputed == 1
    fresh = shade_year(moved, detail=False).wiring("2s2p_cross")
    assert after.mean_kwh == pytest.approx(fresh.mean_kwh, rel=1e-9)
    assert after.kwh_by_heading == pytest.approx(fresh.kwh_by_heading, rel=1e-9)
    raised = replace(moved, panels=(replace(moved.panels[0], z_m=0.1), *moved.panels[1:]))
    assert live_year(raised, wiring="2s2p_cross").mean_kwh == pytest.approx(
        shade_year(raised, detail=False).wiring("2s2p_cross").mean_kwh, rel=1e-9
    )
    back = live_year(roof, wiring="2s2p_cross")
    assert back.mean_kwh == pytest.approx(
        shade_year(roof, detail=False).wiring("2s2p_cross").mean_kwh, rel=1e-9
    )


def test_tilted_panels_are_followed_too():
    roof = scene("d1_small_van")
    leaning = replace(
        roof, panels=tuple(replace(p, tilt_deg=20.0) for p in roof.panels), wirings=roof.wirings[:1]
    )
    live_year(leaning)
    moved = replace(leaning, panels=(replace(leaning.panels[0], x_m=1.0), *leaning.panels[1:]))
    assert live_year(moved).mean_kwh == pytest.approx(
        shade_year(moved, detail=False).wirings[0].mean_kwh, rel=1e-9
    )


def test_the_map_of_lost_beam_agrees_with_the_panels_light():
    roof = scene("d1_small_van")
    panels = {p.panel_id: p for p in shade_year(roof).panels}
    for panel in beam_lost_map(roof).panels:
        beam, sky = np.mean(panel.beam_lost_fraction), np.mean(panel.sky_lost_fraction)
        low, high = sorted((beam, sky))
        assert low - 1e-6 <= panels[panel.panel_id].light_loss_fraction <= high + 1e-6
        assert len(panel.beam_lost_fraction) == 36
        assert panel.columns == 9


def test_the_check_works_every_hour_beside_the_grid():
    found = shade_check(replace(scene("d1_small_van"), headings_deg=(0.0, 90.0, 180.0, 270.0)), wiring="4s")
    assert found.same_order
    assert [w.name for w in found.wirings] == ["4s"]
    assert abs(found.wirings[0].mean_off_fraction) < 0.003
    assert abs(found.wirings[0].worst_heading_off_fraction) < 0.006


def test_kinds_of_controllers_rank_as_they_must():
    roof = scene("d1_small_van")
    strings = (("A", "B"), ("C", "D"))
    best = Controller(strings=strings, v_min_v=16.0)
    wirings = (
        Wiring("best", (best,)),
        Wiring("high", (replace(best, kind=TrackerKind.MPPT_HIGH_V),)),
        Wiring("pwm", (replace(best, kind=TrackerKind.PWM, v_pwm_v=27.0),)),
        Wiring("late", (replace(best, v_start_v=44.0),)),
        Wiring("clipped", (replace(best, p_max_w=250.0),)),
    )
    by_name = {w.name: w.mean_kwh for w in shade_year(replace(roof, wirings=wirings), detail=False).wirings}
    for name in ("high", "pwm", "late", "clipped"):
        assert 0 < by_name[name] < by_name["best"], name


def test_soiling_takes_its_share_of_light():
    roof = scene("d1_small_van")
    clean, dirty = (
        shade_year(replace(roof, soiling_fraction=s), detail=False).wiring("4s").mean_kwh for s in (0.0, 0.05)
    )
    assert dirty / clean == pytest.approx(0.95, abs=0.006)


def test_a_tilted_panel_behind_another_loses_more():
    roof = replace(scene("d1_small_van"), obstructions=(), wirings=())
    alone = replace(roof, panels=(replace(roof.panels[0], tilt_deg=30.0, hinge="right"),))
    behind = replace(
        alone,
        panels=(*alone.panels, replace(roof.panels[1], y_m=0.66, tilt_deg=30.0, hinge="right")),
    )
    first, second = shade_year(behind).panels
    assert second.light_loss_fraction > first.light_loss_fraction + 0.02
    assert shade_year(alone).panels[0].light_loss_fraction == pytest.approx(0.0, abs=1e-9)


def test_more_than_forty_things_on_a_roof_are_worked_out():
    poles = tuple(
        Obstruction(ObstructionKind.CYLINDER, 0.3 + 0.11 * i, 0.95, 0.5, r_m=0.02, name=f"pole {i}")
        for i in range(40)
    )
    roof = replace(scene("d1_small_van"), obstructions=poles)
    found = shade_year(roof, detail=False)
    assert 0 < found.wirings[0].mean_kwh < found.wirings[0].unshaded_kwh
