"""What is measured out on a roof: sums by hand, in metric words; feet in the order of their fields."""

from __future__ import annotations

import json

from jobs.roof.layout import Box, Layout, ObstacleShape, PanelShape, RoofShape, feet_places
from jobs.roof.measures import roof_measures

BOX = Box(1000.0, 300.0, 2500.0, 900.0)


def roof(*, is_first_known: bool = True) -> Layout:
    """Return a roof of 6 by 2.4 m with one panel of 1.5 by 0.6 m, a round vent and a gland."""
    panel = PanelShape(
        number=3, name="P200", box=BOX, is_turned=False, underside=50.0, top=85.0,
        feet=feet_places(BOX, 4, ()), feet_count=4, fasteners_per_foot=4, string="2", place=1,
        controller="A", cells_along=9, cells_across=4, is_flexible=False,
    )  # fmt: skip
    vent = ObstacleShape(
        key="7", mark="v", kind="vent", name="Vent", box=Box(3000.0, 1000.0, 3400.0, 1400.0), is_round=True,
        height=120.0, keep_out=0.0, sweep=None, will_be_removed=False,
    )  # fmt: skip
    shape = RoofShape(6000.0, 2400.0, 25.0, rafters=(200.0, 606.0), is_first_rafter_known=is_first_known)
    return Layout(roof=shape, panels=(panel,), obstacles=(vent,), gland=(3600.0, 1100.0))


def test_a_panel_tells_its_size_its_distances_and_its_feet():
    (panel,) = roof_measures(roof(), "metric")["panels"]
    assert (panel["from_rear"], panel["from_right"]) == ("1.00 m", "0.30 m")
    assert panel["size"] == "1,500 mm × 600 mm"
    assert panel["height"] == "underside 50 mm, top 85 mm above the roof"
    assert panel["wired"] == "string 2, place 1"
    # Quarter points of the long sides: 1000 + 1500/4 and 1000 + 3 × 1500/4; the right side first.
    assert [foot["at_mm"] for foot in panel["feet"]] == [
        [1375.0, 300.0], [2125.0, 300.0], [1375.0, 900.0], [2125.0, 900.0],
    ]  # fmt: skip
    assert panel["feet"][3]["from_rear"] == "2.125 m"


def test_what_stands_on_the_roof_the_gland_and_the_rafters():
    told = roof_measures(roof(), "metric")
    (vent,) = told["things"]
    assert (vent["from_rear"], vent["from_right"], vent["height"]) == ("3.00 m", "1.00 m", "120 mm high")
    assert (told["gland"]["from_rear"], told["gland"]["from_right"]) == ("3.60 m", "1.10 m")
    assert told["rafters"] == "Rafters every 406 mm, the first 0.20 m from the rear edge"
    assert json.loads(json.dumps(told)) == told


def test_a_rafter_nobody_found_is_said_to_be_assumed():
    assert roof_measures(roof(is_first_known=False), "metric")["rafters"].endswith(
        "(assumed: find it before drilling)"
    )


def test_an_american_shop_reads_feet_and_inches():
    (panel,) = roof_measures(roof(), "imperial")["panels"]
    assert panel["from_rear"].startswith("3' 3 ")  # 1000 mm = 39.37 in
    assert panel["size"].startswith("59 ")  # 1500 mm = 59.06 in
