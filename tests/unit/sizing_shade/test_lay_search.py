"""Several layouts of one roof: what stays stays, a way is kept, limits and floors are honest."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from sizing.shade.layout.best import search_layout
from sizing.shade.layout.search import LayoutSearch
from sizing.shade.scene.footprint import footprint, rectangle
from sizing.shade.scene.lay_rules import KeepOut, LayoutRules
from sizing.shade.scene.scene import SceneError
from tests.shade_scenes import panel_type, scene

COARSE = LayoutRules(grid_m=0.1)


@pytest.fixture(scope="module")
def van():
    return scene("d1_small_van")


@pytest.fixture(scope="module")
def places(van):
    return LayoutSearch(van, COARSE)


def boxes(van, proposal):
    return [rectangle(van, item.panel) for item in proposal.panels]


def test_the_search_finds_what_the_whole_lay_finds(van, places):
    found, laid = places.best(), search_layout(van, COARSE)
    assert found.worth_kwh == pytest.approx(laid.layout.score_kwh, rel=0.05)  # before and after its wiring
    assert {item.panel for item in found.panels} == {item.panel for item in laid.layout.panels}
    assert found.is_proved
    assert found.gap_fraction < 1e-4


def test_fewer_panels_give_less_and_never_more_than_asked(places):
    worth = [places.best(panels_max=count) for count in (1, 2, 3)]
    assert [len(one.panels) for one in worth] == [1, 2, 3]
    assert worth[0].worth_kwh < worth[1].worth_kwh < worth[2].worth_kwh
    assert worth[2].worth_kwh <= 3 * worth[0].worth_kwh + 1e-6


def test_nothing_beats_a_floor_that_is_the_best(places):
    best = places.best()
    assert places.best(floor_kwh=best.worth_kwh) is None
    assert places.best(floor_kwh=0.9 * best.worth_kwh).worth_kwh == pytest.approx(best.worth_kwh)


def test_one_whole_way_is_left_free_and_the_cheaper_one_is_chosen(van):
    right = (KeepOut(0.0, 0.0, 5.2, 0.4), KeepOut(0.0, 0.0, 0.4, 1.45))
    middle = (KeepOut(0.0, 0.5, 5.2, 0.9),)
    alone = [LayoutSearch(van, replace(COARSE, ways=(way,))).best() for way in (right, middle)]
    both = LayoutSearch(van, replace(COARSE, ways=(right, middle))).best()
    assert both.worth_kwh == pytest.approx(max(one.worth_kwh for one in alone))
    free = [
        all(
            shapely.box(k.x0_m, k.y0_m, k.x1_m, k.y1_m).intersection(box).area < 1e-9
            for k in way
            for box in boxes(van, both)
        )
        for way in (right, middle)
    ]
    assert any(free)
    assert both.bound_kwh >= max(one.worth_kwh for one in alone) - 1e-6


def test_panels_that_are_kept_are_laid_around(van):
    some = replace(van, panels=van.panels[:2])
    found = LayoutSearch(some, replace(COARSE, keep_placed=True)).best()
    for kept in (rectangle(van, panel) for panel in some.panels):
        assert all(kept.distance(box) >= COARSE.gap_m - 1e-6 for box in boxes(van, found))


def test_each_thing_has_the_room_of_its_own(van):
    first, *others = [replace(thing, name=f"t{i}") for i, thing in enumerate(van.obstructions)]
    named = replace(van, obstructions=(first, *others))
    found = LayoutSearch(named, replace(COARSE, clearance_m={"t0": 0.4})).best()
    assert all(footprint(first).distance(box) >= 0.4 - 1e-3 for box in boxes(van, found))
    bare = LayoutSearch(named, replace(COARSE, clearance_m={one.name: -1.0 for one in named.obstructions}))
    assert len(bare.found.rot_deg) > len(LayoutSearch(named, COARSE).found.rot_deg)


def test_a_model_by_itself_and_what_fits_nowhere(van):
    huge = replace(panel_type(nx=9, ny=2, n_bypass=1), name="H", len_x_m=9.0, len_y_m=0.3)
    both = replace(van, panel_types={**van.panel_types, "H": huge})
    search = LayoutSearch(both, COARSE)
    assert "H" not in search.type_names
    assert search.best(type_names=("H",)) is None
    with pytest.raises(SceneError, match="grid_m"):
        LayoutSearch(van, LayoutRules(grid_m=0.0))


@pytest.mark.parametrize(
    ("rules", "words"),
    [
        (LayoutRules(grid_m=0.0), "rules.grid_m: must be 0.02 to 0.5 m, got 0.0"),
        (LayoutRules(panels_max=0), "rules.panels_max: must be 1 to 60, got 0"),
    ],
)
def test_rules_that_cannot_be_kept_are_refused(rules, words):
    with pytest.raises(SceneError, match=words):
        rules.check()
