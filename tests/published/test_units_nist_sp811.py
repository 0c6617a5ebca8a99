"""Trade units against NIST Special Publication 811 (2008), appendix B.8, factors for conversion to SI.

Values from memory; the inch, the pound and the US gallon (231 cubic inches) are exact by definition. The
appendix prints seven figures, so the tolerance is 1e-6 relative.
"""

from __future__ import annotations

import pytest

from common import units


@pytest.mark.parametrize(
    ("text", "unit", "printed"),
    [
        ("1 in", "mm", 25.4),
        ("1 ft", "m", 0.3048),
        ("1 yd", "m", 0.9144),
        ("1 lb", "kg", 0.4535924),
        ("1 oz", "kg", 0.02834952),
        ("1 gal", "L", 3.785412),
        ("1 qt", "L", 0.9463529),
        ("1 mph", "m/s", 0.44704),
        ("1 psf", "Pa", 47.88026),
        ("1 psi", "Pa", 6894.757),
        ("1 lbf", "N", 4.448222),
        ("1 in-lb", "N·m", 0.1129848),
        ("1 ft-lb", "N·m", 1.355818),
        ("1 ft²", "m²", 0.09290304),
        ("1 mi", "km", 1.609344),
    ],
)
def test_factor_matches_the_printed_one(text, unit, printed):
    assert units.read(text, unit, "imperial") == pytest.approx(printed, rel=1e-6)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [("32 F", 0.0), ("212 F", 100.0), ("-40 F", -40.0)])
def test_fahrenheit_fixed_points(fahrenheit, celsius):
    assert units.read(fahrenheit, "°C", "metric") == pytest.approx(celsius, abs=1e-9)
