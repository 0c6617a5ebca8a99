"""Automatic layout with true sizes: nothing is lost to the grid, to a better hand, or to a rule let go.

The roofs are worked out by hand: their sizes are the sums of panels, gaps, clearances and edges that stand
beside them, so the count that fits is known before anything is searched.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from sizing.shade.layout.best import search_layout
from sizing.shade.layout.conflicts import _clashes, overlap
from sizing.shade.layout.packing import _loose_bound
from sizing.shade.layout.search import LayoutSearch, most_panels, rule_cost
from sizing.shade.scene.footprint import footprint, rectangle
from sizing.shade.scene.lay_rules import KeepOut, LayoutRules
from sizing.shade.scene.scene import Obstruction, ObstructionKind, PlacedPanel
from tests.shade_scenes import scene
from tests.unit.sizing_shade.test_lay import best_by_trying_all, random_candidates

RULES = LayoutRules()  # grid 5 cm, edges 3 cm, gaps 2 cm, 5 cm round things
TALL, WIDE = 1.1, 0.56  # the panel of the small van [m]


def roof_of(len_x_m, len_y_m, *things, panels=()):
    """Return a roof of this size in the weather of the small van."""
    van = scene("d1_small_van")
    size = replace(van.roof, len_x_m=len_x_m, len_y_m=len_y_m)
    return replace(van, roof=size, obstructions=things, panels=panels, wirings=())


def box(x0, y0, x1, y1, height_m=0.1, name="thing"):
    """Return a box between two corners [m]."""
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    return Obstruction(ObstructionKind.BOX, *middle, height_m, lx_m=x1 - x0, ly_m=y1 - y0, name=name)


def laid(x_m, y_m, rot_deg=0, name="hand"):
    """Return a panel as a person laid it."""
    return PlacedPanel(name, "P110", x_m, y_m, 0.06, rot_deg)


def test_six_panels_lie_where_a_step_of_the_grid_has_room_for_five():
    # 0.03 + 6 × 0.56 + 5 × 0.02 + 0.03 = 3.52 m; across 0.03 + 1.1 + 0.03 = 1.16 m. In steps of 5 cm a panel
    # with its gap (0.58) took twelve (0.60): 5 × 0.60 + 0.56 = 3.56 m is more than the 3.46 m between edges.
    found = LayoutSearch(roof_of(3.52, 1.16), RULES).best()
    assert len(found.panels) == 6
    assert found.is_proved
    assert sorted(round(item.panel.x_m, 3) for item in found.panels) == [0.03, 0.61, 1.19, 1.77, 2.35, 2.93]


def test_a_millimetre_less_has_room_for_five():
    assert len(LayoutSearch(roof_of(3.519, 1.16), RULES).best().panels) == 5


def test_a_panel_lies_on_either_side_of_a_thing_at_its_clearance():
    # 0.03 + 1.1 + 0.07 + 0.4 + 0.07 + 1.1 + 0.03 = 2.80 m; the nearest step of the grid beyond 1.67 m is
    # 1.68 m, from where the panel ends at 2.78 m and the edge begins at 2.77 m.
    hatch = box(1.2, 0.0, 1.6, 0.62)
    found = LayoutSearch(roof_of(2.8, 0.62, hatch), replace(RULES, obstruction_gap_m=0.07)).best()
    assert sorted(round(item.panel.x_m, 4) for item in found.panels) == [0.03, 1.67]


def test_a_panel_touches_the_window_that_two_rafters_leave():
    # Feet stand within 0.35 × 1.1 = 0.385 m of either end. The rafter at 1.0 m is in reach of the rear row
    # from a start of 1.0 - 0.385 = 0.615 m on, the one at 1.331 m within reach of the front row up to
    # 1.331 - (1.1 - 0.385) = 0.616 m. The grid stands at 0.58 and 0.63 m.
    found = LayoutSearch(roof_of(2.8, 0.62), replace(RULES, rafters_x_m=(1.0, 1.331))).found
    starts = found.corner_m[found.rot_deg == 0, 0]
    assert np.all((starts >= 0.615 - 1e-6) & (starts <= 0.616 + 1e-6))
    assert np.any(np.abs(starts - 0.615) < 1e-6)


def test_what_a_person_drew_is_never_beaten_by_less():
    # By hand 1 cm off every line of the grid and off every touching place, in the sunny half of the roof.
    shade = box(0.0, 0.0, 0.3, 1.16, height_m=1.5)
    hand = (laid(1.873, 0.031, 90, "a"), laid(2.461, 0.037, 90, "b"))
    roof = roof_of(3.6, 1.2, shade, panels=hand)
    search = LayoutSearch(roof, replace(RULES, grid_m=0.5))
    mine = search.found.take(search.found.is_drawn)
    assert len(mine.own_kwh) == 2
    assert search.best(panels_max=2).worth_kwh >= mine.worth_kwh.sum()
    assert search_layout(roof, replace(RULES, grid_m=0.5, panels_max=2)).bound_kwh >= mine.worth_kwh.sum()


def test_drawing_noise_does_not_cost_a_drawn_panel_but_a_real_shortfall_does():
    noisy = (laid(0.0299, 0.03, 90, "a"), laid(0.6098, 0.03, 90, "b"))  # 0.1 mm over the edge's clearance
    search = LayoutSearch(roof_of(1.3, 1.16, panels=noisy), replace(RULES, grid_m=0.5))
    assert search.found.is_drawn.sum() == 2
    assert not overlap(search.found, *np.flatnonzero(search.found.is_drawn).tolist())
    short = (laid(0.025, 0.03, 90, "a"),)  # 5 mm too near
    assert not LayoutSearch(roof_of(1.3, 1.16, panels=short), RULES).found.is_drawn.any()


def test_a_drawn_panel_that_is_kept_is_not_drawn_over():
    hand = (laid(0.03, 0.03, 90),)
    roof = roof_of(1.2, 1.16, panels=hand)  # 0.03 + 0.56 + 0.02 + 0.56 + 0.03
    search = LayoutSearch(roof, replace(RULES, keep_placed=True))
    assert not search.found.is_drawn.any()
    assert [round(item.panel.x_m, 4) for item in search.best().panels] == [0.61]


def random_roof(seed):
    """Return a roof with some boxes on it and panels somebody laid between them, all within the rules."""
    rng = np.random.default_rng(seed)
    things = []
    for place in range(rng.integers(0, 4)):
        x, y = rng.uniform(0.0, 2.6), rng.uniform(0.0, 1.3)
        things.append(box(x, y, x + rng.uniform(0.1, 0.5), y + rng.uniform(0.1, 0.4), name=f"t{place}"))
    bare = roof_of(rng.uniform(2.2, 3.6), rng.uniform(1.2, 2.0), *things)
    hand = []
    for _ in range(40):
        spot = laid(rng.uniform(0.03, 2.5), rng.uniform(0.03, 1.4), int(rng.choice([0, 90])), f"h{len(hand)}")
        if not faults(bare, [*hand, spot]):
            hand.append(spot)
    return replace(bare, panels=tuple(hand))


def faults(roof, panels, edge_m=0.03, gap_m=0.02, room_m=0.05, noise_m=1e-6):
    """Return what is wrong with a layout, measured on its outlines without the search."""
    rects = [rectangle(roof, panel) for panel in panels]
    inner = shapely.box(edge_m, edge_m, roof.roof.len_x_m - edge_m, roof.roof.len_y_m - edge_m)
    wrong = [one for one in rects if not inner.buffer(noise_m, join_style="mitre").contains(one)]
    wrong += [
        one
        for one in rects
        for thing in roof.obstructions
        if footprint(thing).distance(one) < room_m - 2e-4  # round corners are drawn with 32 chords
    ]
    return wrong + [one for one, two in combinations(rects, 2) if one.distance(two) < gap_m - noise_m]


@pytest.mark.parametrize("seed", range(8))
def test_any_roof_is_laid_without_fault_and_never_worse_than_by_hand(seed):
    roof = random_roof(seed)
    search = LayoutSearch(roof, replace(RULES, grid_m=0.25))
    found = search.best()
    assert faults(roof, [item.panel for item in found.panels]) == []
    assert search.found.is_drawn.sum() == len(roof.panels)
    assert found.worth_kwh >= search.found.worth_kwh[search.found.is_drawn].sum() - 1e-6
    assert len(found.panels) >= len(roof.panels)  # one model on a roof without tall things


@pytest.mark.parametrize("seed", range(4))
def test_a_rule_let_go_never_fits_fewer_panels(seed):
    roof = random_roof(seed)
    walk = (KeepOut(0.0, 0.0, 3.6, 0.4),)
    rules = replace(RULES, grid_m=0.25, ways=(walk,), rafters_x_m=(0.4, 0.9, 1.4, 1.9, 2.4, 2.9))
    search = LayoutSearch(roof, rules)
    base = search.best()
    if base is None:
        pytest.skip("nothing fits beside the way")
    for relaxed in (replace(rules, ways=()), replace(rules, rafters_x_m=()), replace(rules, edge_m=0.0)):
        cost = rule_cost(roof, base, relaxed)
        assert cost.panels >= 0
        free = LayoutSearch(roof, relaxed, drawn=[item.panel for item in base.panels]).best()
        assert free.worth_kwh >= base.worth_kwh - 1e-6
        assert len(base.panels) + cost.panels >= len(base.panels)


def test_what_a_way_to_walk_costs_is_told_in_panels():
    # Two rows of 0.56 m and a gap of 0.02 m fill 0.03 + 0.56 + 0.02 + 0.56 + 0.03 = 1.20 m; a way of 0.4 m
    # along one side leaves room for one row: 0.03 + 1.1 + 0.02 + 1.1 + 0.03 = 2.28 m, two panels of four.
    roof = roof_of(2.28, 1.2)
    rules = replace(RULES, ways=((KeepOut(0.0, 0.0, 2.28, 0.4),),))
    base = LayoutSearch(roof, rules).best()
    assert len(base.panels) == 2
    cost = rule_cost(roof, base, replace(rules, ways=()))
    assert cost.panels == 2
    assert cost.kwh == pytest.approx(sum(item.own_kwh for item in base.panels), rel=0.02)  # a bare roof
    assert rule_cost(roof, base, rules).panels == 0


def test_a_layout_without_room_costs_nothing_to_ask():
    roof = roof_of(2.28, 1.2)
    base = LayoutSearch(roof, RULES).best()
    full = replace(RULES, keep_outs=(KeepOut(0.0, 0.0, 3.0, 3.0),))
    assert rule_cost(roof, replace(base, panels=()), full) == type(rule_cost(roof, base, RULES))(0, 0.0)


@pytest.mark.parametrize("seed", range(4))
def test_the_table_of_overlaps_and_the_bound_without_a_search_hold(seed):
    found = random_candidates(np.random.default_rng(seed), 14)
    bits = np.unpackbits(_clashes(found), axis=1)[:, :14].astype(bool)
    for a in range(14):
        for b in range(14):
            assert bits[a, b] == overlap(found, a, b)
    assert _loose_bound(found, LayoutRules()) >= best_by_trying_all(found) - 1e-6


def test_the_most_that_fits_is_known_without_valuing_anything():
    # Six fit by the sum at the top of this file, two beside the way of a test above; nothing on a full roof.
    assert most_panels(roof_of(3.52, 1.16), RULES, (), ()) == 6
    way = replace(RULES, ways=((KeepOut(0.0, 0.0, 2.28, 0.4),),))
    assert most_panels(roof_of(2.28, 1.2), way, (), ("P110",)) == 2
    full = replace(RULES, keep_outs=(KeepOut(0.0, 0.0, 3.0, 3.0),))
    assert most_panels(roof_of(2.28, 1.2), full, (), ()) == 0
    assert most_panels(roof_of(2.28, 1.2), RULES, (), ("none of these",)) == 0
