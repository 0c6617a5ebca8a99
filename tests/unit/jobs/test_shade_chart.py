"""The polar chart: north is up, east is right, rings hold every value and say their numbers."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from jobs.shade.chart import MIDDLE, compass, polar_svg, scale

SVG = "{http://www.w3.org/2000/svg}"


def drawn(kwh: list[float], unshaded_kwh: float) -> ElementTree.Element:
    """Return the parsed chart of evenly spread headings."""
    headings = [360.0 * place / len(kwh) for place in range(len(kwh))]
    return ElementTree.fromstring(polar_svg(headings, kwh, unshaded_kwh))


def corners(root: ElementTree.Element) -> list[tuple[float, float]]:
    """Return the corners of the energy polygon, from the middle, y up."""
    pairs = root.find(f"{SVG}polygon").get("points").split()
    return [(float(x) - MIDDLE[0], MIDDLE[1] - float(y)) for x, y in (pair.split(",") for pair in pairs)]


def test_headings_turn_clockwise_from_north():
    north, east, south, west = corners(drawn([110.0, 120.0, 100.0, 105.0], 130.0))
    assert north[0] == pytest.approx(0, abs=0.1)
    assert north[1] > 0
    assert east[0] > 0
    assert south[1] < 0
    assert west[0] < 0
    assert math.hypot(*east) > math.hypot(*north) > math.hypot(*west) > math.hypot(*south)


def test_it_speaks_without_being_seen():
    root = drawn([110.0, 120.0, 100.0, 105.0], 130.0)
    said = root.find(f"{SVG}desc").text
    assert "Best with the nose E, 120 kWh a year; worst with the nose S, 100 kWh" in said
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").get("id") in root.get("aria-labelledby").split()


def test_directions_that_are_equal_name_no_best():
    root = ElementTree.fromstring(polar_svg([0.0, 90.0], [1647.1, 1647.0], 1648.0, is_even=True))
    assert "no difference: 1,647 kWh a year" in root.find(f"{SVG}desc").text
    assert not [one for one in root.iter(f"{SVG}circle") if one.get("r") == "5.5"]


def test_nothing_in_it_needs_a_style_sheet():
    assert not re.search(r"\sstyle=", polar_svg([0.0, 180.0], [1.0, 2.0], 3.0))


@pytest.mark.parametrize(
    ("lowest", "highest"), [(1065.4, 1155.5), (0.0, 0.0), (647.1, 647.5), (3.0, 2000.0), (0.2, 0.21)]
)
def test_rings_hold_every_value(lowest, highest):
    low, step = scale(lowest, highest)
    assert low <= lowest
    assert low + 4 * step >= highest - 1e-9
    assert step > 0


def test_an_array_that_gives_nothing_is_drawn_too():
    assert len(corners(drawn([0.0] * 24, 0.0))) == 24


@pytest.mark.parametrize(
    ("degrees", "word"), [(0, "N"), (348.74, "NNW"), (348.76, "N"), (90, "E"), (112.5, "ESE"), (359.9, "N")]
)
def test_compass_points(degrees, word):
    assert compass(degrees) == word  # 32 quarter winds of 11.25 °: a point reaches that far to each side
