"""What the hand does to a layout in the browser: shares gaps, aligns, pulls to rafters, finds room.

Expected places are plane arithmetic on paper.
"""

from __future__ import annotations

import pytest

from tests.js import ROOT, needs_node, run_js

pytestmark = needs_node
WORKSPACE = ROOT / "static" / "js" / "workspace"
PART = {"id": 1, "length_mm": 1000, "width_mm": 500, "feet": 4}
SCRIPT = """
import * as edits from "./edits.js";
import { bestPlace, settle } from "./geometry.js";
const parts = new Map([[1, data.part]]);
const layout = { strings: [], panels: data.places.map(([x, y], place) => (
  { number: place + 1, part: 1, x_mm: x, y_mm: y, turned: false })) };
const acts = {
  spread: () => edits.spread(layout, [1, 2, 3], true, parts),
  align: () => edits.align(layout, [1, 2, 3], data.edge, parts),
  room: () => bestPlace({ length: 1000, width: 500 }, [], data.facts, data.ways),
  settle: () => settle(
    { x0: 1035, y0: 300, x1: 2035, y1: 800, length: 1000, width: 500 }, [], data.facts, true),
};
const got = acts[data.act]();
answer(got ?? layout.panels.map(({ x_mm, y_mm }) => [x_mm, y_mm]));
"""


def facts(length=5000, width=2000, obstacles=(), rafters=()):
    """Return a roof of a metric shop, whose grid is 10 mm, with 100 mm clear at its edges."""
    roof = {"length": length, "width": width, "edge": 100, "front": 100, "rafters": list(rafters)}
    return {"roof": roof, "obstacles": list(obstacles), "units": "metric"}


def done(act, places=(), **more):
    """Return what an act leaves."""
    data = {"act": act, "places": list(places), "part": PART, "facts": facts(), "ways": [], **more}
    return run_js(SCRIPT, data, folder=WORKSPACE)


def test_three_panels_share_their_gaps():
    # From 0 to 4000 lie three of 1000: two gaps of 500.
    assert done("spread", [(0, 0), (1100, 10), (3000, 20)]) == [[0, 0], [1500, 10], [3000, 20]]


@pytest.mark.parametrize(
    ("edge", "expected"),
    [
        ("rear", [[0, 0], [0, 600], [0, 900]]),
        ("front", [[2000, 0], [2000, 600], [2000, 900]]),
        ("right", [[0, 0], [700, 0], [2000, 0]]),
        ("left", [[0, 900], [700, 900], [2000, 900]]),
    ],
)
def test_edges_are_aligned(edge, expected):
    assert done("align", [(0, 0), (700, 600), (2000, 900)], edge=edge) == expected


def test_feet_pull_to_a_rafter():
    # The first foot stands at a quarter of the length: a rafter at 1300 wants the panel at 1050, 15 mm away.
    got = done("settle", facts=facts(rafters=[1300]))
    assert got["x"] == 1050
    assert got["guides"]["x"] == 1300


def test_a_new_panel_keeps_off_the_way():
    along_the_right = {"points": [[0, 350], [5000, 350]], "half": 250}
    got = done("room", ways=[along_the_right])
    assert got["y"] >= 600
    assert not got["turns"]


def test_a_panel_is_turned_where_it_fits_only_across():
    # 700 mm between the clear edges take 500 mm, not 1000.
    assert done("room", facts=facts(length=900, width=1400))["turns"]


def test_without_room_it_lies_over_as_little_as_can_be():
    whole = {"name": "", "box": [0, 0, 3000, 2000], "keep_out": 0, "sweep": None}
    got = done("room", facts=facts(length=3500, obstacles=[whole]))
    assert got["x"] == pytest.approx(
        2400
    )  # 400 mm are free, neither side fits: as far forward as the front edge lets it


def test_a_new_panel_leaves_the_gland_free():
    # The corner it would take is (100, 100) to (1100, 600); the gland at (600, 300) reaches 100 mm round.
    gland = {"points": [[600, 300], [600, 300]], "half": 100}
    assert done("room")["x"] == 100
    found = done("room", ways=[gland])
    assert found["x"] >= 700 or found["y"] >= 400 or found["x"] + 1000 <= 500 or found["y"] + 500 <= 200
