"""How the roof workspace writes lengths and where things come to rest, in either kind of shop.

NIST SP 811 appendix B: 1 in = 25.4 mm exactly. A tape is read to the eighth of an inch; half-inch steps of
12.7 mm are exact in the tenths of a millimeter that are stored.
"""

from __future__ import annotations

import pytest

from tests.js import ROOT, needs_node, run_js

pytestmark = needs_node
WORKSPACE = ROOT / "static" / "js" / "workspace"
SCRIPT = """
const { show, read, onGrid, stepsOf } = await import(data.folder + "/lengths.js");
const { arrowOf } = await import(data.folder + "/keys.js");
const { freePlace, bestPlace, settle } = await import(data.folder + "/geometry.js");
const acts = { show, read, onGrid, stepsOf, arrowOf, freePlace, bestPlace, settle };
answer(data.calls.map(([name, ...given]) => acts[name](...given)));
"""
ROOF = {"length": 7000, "width": 2400, "edge": 152.4, "front": 0, "walkway": 0, "rafters": []}


def said(*calls):
    """Return what the script's functions answer, in order."""
    return run_js(SCRIPT, {"folder": WORKSPACE.as_uri(), "calls": calls}, folder=WORKSPACE)


def facts(units):
    return {"units": units, "roof": ROOF, "obstacles": []}


def test_lengths_are_written_to_the_eighth_of_an_inch():
    # 400 mm = 15.748 in: 15 3/4. 1000 mm = 39.370 in: 3 ft 3 3/8. 1.6 mm = 0.063 in: 1/8 (half up).
    # 300 mm = 11.811 in; 308 mm = 12.126 in
    written = said(
        *[["show", mm, "imperial"] for mm in (400, 1000, 1.6, 0, -406.4, 300, 3657.6, 3644.9, 308)]
    )
    assert written == [
        "1' 3 3/4\"",
        "3' 3 3/8\"",
        '1/8"',
        '0"',
        "-1' 4\"",
        '11 3/4"',
        "12'",
        "11' 11 1/2\"",
        "1' 0 1/8\"",
    ]
    assert said(["show", 400, "metric"], ["show", 1234, "metric"]) == ["0.40 m", "1.234 m"]


@pytest.mark.parametrize("eighths", range(1, 40))
def test_what_is_typed_to_the_eighth_is_said_again_as_typed(eighths):
    # 3.175 mm is stored as 3.2: a fortieth of a millimeter off, which no tape shows
    (mm,) = said(["read", f"{eighths}/8 in", "imperial"])
    assert mm == pytest.approx(eighths * 3.175, abs=0.051)
    (words,) = said(["show", mm, "imperial"])
    assert said(["read", words, "imperial"]) == [mm]


def test_the_grid_is_half_an_inch_or_a_centimeter():
    assert said(["onGrid", 100, "imperial"], ["onGrid", 100, "metric"], ["onGrid", 104, "metric"]) == [
        101.6,  # 4 in
        100,
        100,
    ]
    every = said(*[["onGrid", 12.7 * n + 3, "imperial"] for n in range(1200)])
    assert every == [round(12.7 * n, 1) for n in range(1200)]  # nothing drifts over 15 m


def test_arrow_keys_go_by_the_grid_and_with_shift_by_four_inches():
    right, up = {"key": "ArrowRight"}, {"key": "ArrowUp", "shiftKey": True}
    assert said(["arrowOf", right, "imperial"], ["arrowOf", up, "imperial"]) == [[12.7, 0], [0, 101.6]]
    assert said(["arrowOf", right, "metric"], ["arrowOf", up, "metric"]) == [[10, 0], [0, 100]]


def test_a_panel_is_let_go_on_the_shop_s_grid():
    box = {"x0": 1003, "y0": 1003, "x1": 2003, "y1": 1503, "length": 1000, "width": 500}
    us, metric = said(
        ["settle", box, [], facts("imperial"), False], ["settle", box, [], facts("metric"), False]
    )
    assert (us["x"], us["y"]) == (1003.3, 1003.3)  # 39 1/2 in
    assert (metric["x"], metric["y"]) == (1000, 1000)


def test_a_new_panel_lies_on_the_grid_and_keeps_the_gap():
    size = {"length": 1000, "width": 500}
    first, metric = said(["freePlace", size, [], facts("imperial")], ["freePlace", size, [], facts("metric")])
    assert first == {"x": 152.4, "y": 152.4}  # 6 in
    assert metric == {"x": 160, "y": 160}
    taken = {"x0": 152.4, "y0": 152.4, "x1": 1152.4, "y1": 652.4, "length": 1000, "width": 500}
    (next_to,) = said(["freePlace", size, [taken], facts("imperial")])
    assert next_to["x"] - taken["x1"] >= 25.4 or next_to["y"] - taken["y1"] >= 25.4
    assert all(round(next_to[axis] / 12.7, 6) % 1 == 0 for axis in "xy")
    for units in ("imperial", "metric"):
        (best,) = said(["bestPlace", size, [taken], facts(units), []])
        grid = 12.7 if units == "imperial" else 10
        assert round(best["x"] / grid, 6) % 1 == 0


def test_a_neighbor_pulls_to_an_inch():
    other = {"x0": 0, "y0": 0, "x1": 1000, "y1": 500, "length": 1000, "width": 500}
    box = {"x0": 1010, "y0": 700, "x1": 2010, "y1": 1200, "length": 1000, "width": 500}
    us, metric = said(
        ["settle", box, [other], facts("imperial"), True], ["settle", box, [other], facts("metric"), True]
    )
    assert us["x"] == pytest.approx(1000) or us["x"] == pytest.approx(1025.4)
    assert metric["x"] in (1000, 1020)
