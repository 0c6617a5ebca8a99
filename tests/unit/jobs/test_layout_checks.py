"""Layouts with distances worked by hand on squared paper; the free way is cross-checked on a pixel grid."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

import sizing
from jobs.models import Obstacle
from jobs.roof import checks
from jobs.roof.layout import Box, Layout, ObstacleShape, PanelShape, RoofShape, feet_places

V = sizing.Verdict


def panel(number: int, box: Box, **changes) -> PanelShape:
    """Return a panel of the given outline, 50 mm over the roof."""
    facts = {
        "name": "P",
        "is_turned": False,
        "underside": 50.0,
        "top": 85.0,
        "feet": (),
        "feet_count": 4,
        "fasteners_per_foot": 4,
        "string": "1",
        "place": 1,
        "controller": "A",
        "cells_along": 9,
        "cells_across": 4,
        "is_flexible": False,
    }
    return PanelShape(number=number, box=box, **(facts | changes))


def thing(key: str, kind: str, box: Box, **changes) -> ObstacleShape:
    """Return a thing on the roof."""
    facts = {
        "name": key,
        "is_round": False,
        "height": 300.0,
        "keep_out": 0.0,
        "sweep": None,
        "will_be_removed": False,
    }
    return ObstacleShape(key=key, mark=key, kind=kind, box=box, **(facts | changes))


def roof(*panels: PanelShape, things: tuple[ObstacleShape, ...] = (), **changes) -> Layout:
    """Return a 6 by 2.2 m roof."""
    shape = RoofShape(length=6000, width=2200, edge_clearance=150, front_clearance=300, walkway_width=400)
    from dataclasses import replace

    return Layout(roof=replace(shape, **changes), panels=panels, obstacles=things, gland=None)


def found(layout: Layout, rule: str) -> list[sizing.Check]:
    """Return the checks of one rule."""
    return [check for check in checks.layout_checks(layout) if check.rule == f"layout_{rule}"]


def test_nothing_can_be_said_about_an_unmeasured_roof():
    (only,) = checks.layout_checks(None)
    assert only.verdict is V.NOT_ENOUGH_DATA


def test_a_bare_roof_has_nothing_to_judge():
    assert checks.layout_checks(roof()) == ()


def test_a_panel_clear_of_the_edges_passes_with_its_nearest_distance():
    (check,) = found(roof(panel(1, Box(1000, 200, 2490, 870))), "edge")
    assert (check.verdict, check.value, check.limit) == (V.PASS, 0.2, 0.15)


def test_a_panel_too_near_to_the_front_is_a_caution_that_names_the_shortfall():
    # 6000 - 5800 = 200 mm of the 300 asked for: ‹100 mm|3 7/8 in› are missing.
    (check,) = found(roof(panel(1, Box(4310, 700, 5800, 1370))), "edge")
    assert check.verdict is V.CAUTION
    assert "‹100 mm|3 7/8 in› too close to the front edge" in check.sentence


def test_a_panel_over_the_edge_blocks():
    (check,) = found(roof(panel(1, Box(1000, -40, 2490, 630))), "edge")
    assert check.verdict is V.BLOCK
    assert "‹40 mm|1 5/8 in› over the right edge" in check.sentence


def test_overlapping_panels_block_once():
    layout = roof(panel(1, Box(1000, 200, 2490, 870)), panel(2, Box(2400, 200, 3890, 870)))
    (check,) = found(layout, "overlap")
    assert check.verdict is V.BLOCK
    assert "overlap by ‹90 mm|3 1/2 in›" in check.sentence
    assert found(layout, "gap") == []


def test_a_judgement_names_the_panels_to_move_by_number():
    cap = thing("cap", Obstacle.Kind.AIR_CONDITIONER, Box(4100, 200, 4900, 900), keep_out=300.0)
    layout = roof(
        panel(3, Box(1000, 200, 2490, 870)), panel(7, Box(2400, 200, 3890, 870)), things=(cap,),
        walkway_width=0,
    )  # fmt: skip
    stands = [one for one in checks.layout_findings(layout) if one.check.verdict is V.BLOCK]
    assert [(one.check.rule, one.panels) for one in stands] == [
        ("layout_overlap", (7,)), ("layout_keep_out", (7,)),
    ]  # fmt: skip
    assert checks.layout_checks(layout) == tuple(one.check for one in checks.layout_findings(layout))


def test_panels_that_only_touch_do_not_overlap_but_stand_too_near():
    layout = roof(panel(1, Box(1000, 200, 2490, 870)), panel(2, Box(2490, 200, 3980, 870)))
    assert found(layout, "overlap") == []
    (check,) = found(layout, "gap")
    assert check.verdict is V.CAUTION
    assert "‹20 mm|3/4 in› too close" in check.sentence


@pytest.mark.parametrize(
    ("kind", "verdict"), [(Obstacle.Kind.AIR_CONDITIONER, V.BLOCK), (Obstacle.Kind.SKYLIGHT, V.CAUTION)]
)
def test_keep_out_blocks_where_it_is_service_room(kind, verdict):
    # The panel ends at 2490, the thing begins at 2740: 250 mm of the 300 asked for.
    layout = roof(
        panel(1, Box(1000, 700, 2490, 1370)),
        things=(thing("it", kind, Box(2740, 700, 3810, 1440), keep_out=300.0),),
    )
    (check,) = found(layout, "keep_out")
    assert (check.verdict, round(check.value, 3)) == (verdict, 0.25)
    assert "‹50 mm|2 in› too close" in check.sentence


def test_a_panel_on_an_obstacle_blocks_unless_the_obstacle_comes_off():
    on_it = thing("vent", Obstacle.Kind.VENT, Box(2000, 800, 2460, 1260))
    layout = roof(panel(1, Box(1000, 700, 2490, 1370)), things=(on_it,))
    assert [check.verdict for check in found(layout, "obstacle")] == [V.BLOCK]
    from dataclasses import replace

    gone = replace(on_it, will_be_removed=True)
    assert found(roof(*layout.panels, things=(gone,)), "obstacle") == []


def test_a_corner_beside_a_round_cap_is_not_on_it():
    # Circle of radius 60 round (1060, 760): its corner square reaches (1120, 820) but the circle does not.
    cap = thing("cap", Obstacle.Kind.PLUMBING_STACK, Box(1000, 700, 1120, 820), is_round=True)
    assert found(roof(panel(1, Box(1110, 810, 2600, 1480)), things=(cap,)), "obstacle") == []


def test_a_high_panel_may_pass_over_a_low_cap():
    cap = thing("cap", Obstacle.Kind.PLUMBING_STACK, Box(2000, 800, 2120, 920), height=60.0, keep_out=50.0)
    layout = roof(panel(1, Box(1000, 700, 2490, 1370), underside=110.0), things=(cap,))
    assert [check.verdict for check in found(layout, "obstacle")] == [V.CAUTION]
    assert found(layout, "keep_out") == []


def test_a_lid_that_opens_over_a_panel_blocks():
    # A 460 mm lid leaning 20° past upright reaches 460 · sin 20° = 157 mm; the gap is 60 mm: 97 mm too much.
    sweep = Box(2490 + 60 - 157.3, 800, 2550, 1260)
    vent = thing("vent", Obstacle.Kind.VENT, Box(2550, 800, 3010, 1260), sweep=sweep)
    (check,) = found(roof(panel(1, Box(1000, 700, 2490, 1370)), things=(vent,)), "lid_sweep")
    assert check.verdict is V.BLOCK
    assert "97 mm" in check.sentence


def test_too_little_air_under_a_rigid_panel_is_a_caution_and_a_flexible_one_is_not_asked():
    assert found(roof(panel(1, Box(1000, 700, 2490, 1370), underside=5.0)), "air_gap")[0].verdict is V.CAUTION
    flat = panel(1, Box(1000, 700, 2090, 1240), underside=6.0, is_flexible=True)
    assert found(roof(flat), "air_gap") == []


def narrow_roof(gap: float) -> Layout:
    """Return a roof whose only way from ladder to air conditioner is ``gap`` wide."""
    half = (2200 - gap) / 2
    return roof(
        panel(1, Box(1500, 0, 3000, half)),
        panel(2, Box(1500, half + gap, 3000, 2200)),
        things=(
            thing("ladder", Obstacle.Kind.LADDER, Box(0, 800, 150, 1300)),
            thing("air", Obstacle.Kind.AIR_CONDITIONER, Box(4000, 730, 5070, 1470)),
        ),
    )


def test_the_walkway_is_as_wide_as_its_narrowest_place():
    (check,) = found(narrow_roof(310.0), "walkway")
    assert check.verdict is V.CAUTION
    assert check.value == pytest.approx(0.310, abs=0.004)
    assert "‹90 mm|3 1/2 in› too narrow" in check.sentence or "‹91 mm|" in check.sentence
    (wide,) = found(narrow_roof(420.0), "walkway")
    assert wide.verdict is V.PASS


@pytest.mark.parametrize("gap", [150.0, 260.0, 380.0])
def test_the_walkway_agrees_with_a_distance_map(gap):
    """SciPy's Euclidean distance transform on a 10 mm grid finds the same bottleneck."""
    layout = narrow_roof(gap)
    free = np.ones((222, 602), dtype=bool)
    free[0, :] = free[-1, :] = free[:, 0] = free[:, -1] = False
    for box in [p.box for p in layout.panels] + [layout.obstacles[1].box]:
        free[int(box.y0 / 10) + 1 : int(box.y1 / 10) + 1, int(box.x0 / 10) + 1 : int(box.x1 / 10) + 1] = False
    room = ndimage.distance_transform_edt(free) * 10
    widest = 0.0
    for half in range(0, 210, 5):
        parts, _ = ndimage.label(room > half)
        start = set(np.unique(parts[90:131, 1:40])) - {0}
        goal = set(np.unique(parts[70:150, 340:400])) - {0}
        if start & goal:
            widest = 2.0 * half
    free_area = checks.WalkableArea(checks.free_roof(layout))
    ladder = checks.shape_of(layout.obstacles[0].box)
    target = checks.shape_of(layout.obstacles[1].box)
    assert checks.widest_way(free_area, layout, [ladder], target) == pytest.approx(widest, abs=25)


def test_without_a_ladder_a_person_may_come_from_any_edge():
    layout = roof(
        panel(1, Box(1500, 200, 2990, 870)),
        things=(thing("air", Obstacle.Kind.AIR_CONDITIONER, Box(4000, 730, 5070, 1470)),),
    )
    assert found(layout, "walkway")[0].verdict is V.PASS


def test_feet_move_onto_rafters_within_reach():
    # Quarter points of 1490 mm from 1000: 1372.5 and 2117.5; rafters every 406 from 140: 1358 and 2170.
    rafters = [140 + 406 * step for step in range(15)]
    feet = feet_places(Box(1000, 200, 2490, 870), 4, rafters)
    assert feet == ((1358, 200), (2170, 200), (1358, 870), (2170, 870))


def test_feet_of_a_turned_panel_stay_on_its_long_sides():
    feet = feet_places(Box(1000, 200, 1670, 1690), 6, [1000.0])
    assert {x for x, _ in feet} == {1000, 1670}
    assert len(feet) == 6


def test_an_odd_foot_goes_to_the_first_side_and_no_feet_are_none():
    assert len(feet_places(Box(0, 0, 1000, 500), 5, [])) == 5
    assert feet_places(Box(0, 0, 1000, 500), 0, []) == ()


def test_a_panel_over_the_gland_is_a_caution_and_one_beside_it_is_not_named():
    # The gland reaches 100 mm round (3000, 1100), from 2900 on: a panel that ends at 2950 lies 50 over it.
    from dataclasses import replace

    over = roof(panel(1, Box(1500, 900, 2950, 1500)), panel(2, Box(3100, 900, 4600, 1500)))
    (check,) = found(replace(over, gland=(3000.0, 1100.0)), "gland")
    assert (check.verdict, check.subject, check.value) == (V.CAUTION, "panel:1", -0.05)
    assert found(over, "gland") == []  # where it is not known nothing can lie over it
