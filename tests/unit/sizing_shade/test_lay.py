"""Automatic layout: places keep clear of everything, the packing is the best there is, the bound holds."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from sizing.shade.answers.year import shade_year
from sizing.shade.layout.best import panel_label, search_layout
from sizing.shade.layout.candidates import Candidates, SearchStopped, find_candidates
from sizing.shade.layout.conflicts import cliques, undominated
from sizing.shade.layout.packing import greedy, pack
from sizing.shade.scene.footprint import footprint
from sizing.shade.scene.lay_rules import KeepOut, LayoutRules
from sizing.shade.scene.scene import Controller, NoFreePlace, SceneError
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import panel_type, scene

COARSE = LayoutRules(grid_m=0.1)


@pytest.fixture(scope="module")
def van():
    return scene("d1_small_van")


@pytest.fixture(scope="module")
def laid(van):
    return search_layout(van, COARSE)


def rectangle(roof, panel):
    kind = roof.panel_type(panel)
    size = (kind.len_x_m, kind.len_y_m) if panel.rot_deg == 0 else (kind.len_y_m, kind.len_x_m)
    return shapely.box(panel.x_m, panel.y_m, panel.x_m + size[0], panel.y_m + size[1])


def test_panels_keep_clear_of_edges_things_and_one_another(van, laid):
    rects = [rectangle(van, item.panel) for item in laid.layout.panels]
    roof = shapely.box(0, 0, van.roof.len_x_m, van.roof.len_y_m)
    for rect in rects:
        assert roof.boundary.distance(rect) >= COARSE.edge_m - 1e-6
        assert roof.contains(rect)
        for thing in van.obstructions:
            assert footprint(thing).distance(rect) >= COARSE.obstruction_gap_m - 2e-3
    for one, two in combinations(rects, 2):
        assert one.distance(two) >= COARSE.gap_m - 1e-6


def test_the_promised_energy_is_that_of_the_laid_scene(van, laid):
    panels = tuple(item.panel for item in laid.layout.panels)
    year = shade_year(replace(van, panels=panels, wirings=()))
    assert year.own_trackers_kwh == pytest.approx(laid.layout.own_trackers_kwh, rel=1e-9)
    assert sum(i.own_kwh for i in laid.layout.panels) == pytest.approx(year.own_trackers_kwh, rel=0.004)
    assert laid.layout.mean_kwh <= laid.layout.own_trackers_kwh
    assert laid.bound_kwh >= laid.layout.score_kwh
    assert laid.is_proved
    assert 0.0 <= laid.layout_gap_fraction < 1e-4
    assert laid.gap_fraction == pytest.approx(laid.bound_kwh / laid.layout.score_kwh - 1)


def test_the_laid_roof_beats_the_one_drawn_by_hand(van, laid):
    by_hand = shade_year(van, detail=False)
    assert laid.layout.mean_kwh > max(w.mean_kwh for w in by_hand.wirings)


def test_a_walkway_is_left_free(van):
    walk = KeepOut(0.0, 0.6, 5.2, 1.1, "walkway")
    found = search_layout(van, replace(COARSE, keep_outs=(walk,)))
    for item in found.layout.panels:
        assert rectangle(van, item.panel).intersection(shapely.box(0, 0.6, 5.2, 1.1)).area < 1e-9


def test_feet_find_rafters_near_both_ends(van):
    rafters = (0.4, 1.2, 2.0, 2.8, 3.6, 4.4)
    found = search_layout(van, replace(COARSE, rafters_x_m=rafters))
    for item in found.layout.panels:
        x0, _, x1, _ = rectangle(van, item.panel).bounds
        zone = 0.35 * (x1 - x0) + 1e-9
        assert any(x0 <= r <= x0 + zone for r in rafters)
        assert any(x1 - zone <= r <= x1 for r in rafters)


def test_a_limit_of_panels_is_kept_and_penalties_move_the_choice(van):
    few = search_layout(van, replace(COARSE, panels_max=2))
    assert len(few.layout.panels) == 2
    near = search_layout(
        van, replace(COARSE, panels_max=2, gland_x_m=0.0, gland_y_m=0.0, wire_cost_kwh_m=40.0)
    )
    far = sum(i.panel.x_m + i.panel.y_m for i in few.layout.panels)
    assert sum(i.panel.x_m + i.panel.y_m for i in near.layout.panels) <= far
    assert all(i.penalty_kwh > 0 for i in near.layout.panels)
    costly = replace(COARSE, hole_cost_kwh=1000.0)
    with pytest.raises(NoFreePlace, match="no place worth its penalties"):
        search_layout(van, costly)


def test_mixed_sizes_use_the_room_better(van):
    small = replace(panel_type(nx=9, ny=2, n_bypass=1), name="S", len_x_m=1.1, len_y_m=0.3)
    both = replace(van, panel_types={**van.panel_types, "S": small})
    alone, mixed = search_layout(van, COARSE), search_layout(both, COARSE)
    assert mixed.bound_kwh >= alone.bound_kwh
    assert {item.panel.type_name for item in mixed.layout.panels} == {"P110", "S"}


def test_strings_stay_under_the_controllers_cold_voltage(van):
    tight = Controller(strings=(), v_min_v=16.0, v_max_v=60.0)
    found = search_layout(van, replace(COARSE, controller=tight))
    assert max(len(string) for string in found.layout.strings) <= 2


def test_a_full_roof_is_refused(van):
    blocked = replace(COARSE, keep_outs=(KeepOut(0, 0, 6, 3),))
    with pytest.raises(NoFreePlace, match="no free place"):
        search_layout(van, blocked)
    with pytest.raises(SceneError, match="names no panel type: 'X'"):
        search_layout(van, replace(COARSE, type_names=("X",)))


def test_a_search_can_be_watched_and_stopped(van):
    seen = []

    def watch(done, words):
        seen.append((done, words))
        return len(seen) < 1_000

    search_layout(van, COARSE, progress=watch)
    shares = [done for done, _ in seen]
    assert shares == sorted(shares)
    assert any(words.startswith("first layout") for _, words in seen)
    with pytest.raises(SearchStopped):
        search_layout(van, COARSE, progress=lambda done, words: False)
    early = search_layout(van, COARSE, progress=lambda done, words: not words.startswith("first layout"))
    assert len(early.layout.panels) > 0
    assert early.bound_kwh >= early.layout.score_kwh


SIZES = {(0, 0): (4, 2), (0, 90): (2, 4), (1, 0): (3, 3)}


def random_candidates(rng, n):
    """Return places of two types, one of them in two orientations, each place once."""
    every = [(*key, x, y) for key in SIZES for x in range(8) for y in range(5)]
    picked = [every[i] for i in rng.choice(len(every), n, replace=False)]
    kinds = np.array([p[0] for p in picked])
    turns = np.array([p[1] for p in picked])
    size = np.array([SIZES[p[0], p[1]] for p in picked])
    step = np.array([p[2:] for p in picked])
    worth = rng.uniform(1, 2, n) * size.prod(axis=1)
    drawn = np.zeros(n, bool)
    return Candidates(kinds, turns, step * 0.1, step, size, worth, np.zeros(n), ("T", "U"), size * 0.1, drawn)


def best_by_trying_all(found):
    n = len(found.own_kwh)
    low, high = found.step, found.step + found.size
    clash = np.all((low[:, None] < high[None]) & (low[None] < high[:, None]), axis=-1)

    def best_from(i, taken):
        if i == n:
            return 0.0
        skip = best_from(i + 1, taken)
        if any(clash[i, t] for t in taken):
            return skip
        return max(skip, found.own_kwh[i] + best_from(i + 1, (*taken, i)))

    return best_from(0, ())


@pytest.mark.parametrize("seed", range(12))
def test_the_packing_is_the_best_of_all_sets_tried_by_hand(seed, capfd):
    found = random_candidates(np.random.default_rng(seed), 14)
    made = pack(found, LayoutRules())
    assert capfd.readouterr() == ("", "")  # the answer of the command line is all there is on its output
    assert made.worth_kwh == pytest.approx(best_by_trying_all(found), abs=0.02)
    assert made.is_proved
    assert made.bound_kwh >= made.worth_kwh


def test_dropped_places_never_cost_energy(van):
    """Packing with and without the dropped places gives the same worth."""
    found = find_candidates(van, replace(COARSE, grid_m=0.2), daylight_for(van), None)
    kept = undominated(found)
    assert len(kept) < len(found.own_kwh)
    from sizing.shade.layout.packing import _solve

    every = _solve(found, LayoutRules(), greedy(found, None), None)
    few = found.take(kept)
    some = _solve(few, LayoutRules(), greedy(few, None), None)
    assert few.worth_kwh[some[0]].sum() == pytest.approx(found.worth_kwh[every[0]].sum(), abs=0.02)


def test_every_overlap_is_in_a_clique():
    found = random_candidates(np.random.default_rng(9), 30)
    together = {pair for members in cliques(found) for pair in combinations(members.tolist(), 2)}
    low, high = found.step, found.step + found.size
    for a, b in combinations(range(30), 2):
        overlaps = bool(np.all(low[a] < high[b]) and np.all(low[b] < high[a]))
        assert overlaps == ((a, b) in together)


def test_labels_run_past_z():
    assert [panel_label(i) for i in (0, 25, 26, 51, 52)] == ["A", "Z", "A2", "Z2", "A3"]
