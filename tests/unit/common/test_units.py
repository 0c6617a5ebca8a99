"""What people type on a roof, and how it comes back. Factors are checked in tests/published."""

from __future__ import annotations

import math

import pytest

from common import units

IN, FT = 0.0254, 0.3048  # meters, by definition (international yard, 1959)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("12' 6 1/2\"", 12 * FT + 6.5 * IN),
        ("12′ 6½″", 12 * FT + 6.5 * IN),
        ("12'6-1/2\"", 12 * FT + 6.5 * IN),
        ("7 ft 4", 7 * FT + 4 * IN),
        ("6 ft. 2 in.", 6 * FT + 2 * IN),
        ("2 feet 3 inches", 2 * FT + 3 * IN),
        ("80 in", 80 * IN),
        ("½ in", 0.5 * IN),
        ("7", 7 * FT),
        ("2 1/2 ft", 2.5 * FT),
        ("3,5 m", 3.5),
        ("3.5m", 3.5),
        ("35 mm", 0.035),
        ("1,250 mm", 1.25),
        ("-6 in", -6 * IN),
        ("− 6 in", -6 * IN),
        ("-1' 6\"", -1.5 * FT),
    ],
)
def test_a_length_is_read_in_any_of_its_spellings(text, metres):
    assert units.read(text, "m", "imperial") == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "system", "value"),
    [
        ("3/8", "mm", "imperial", 9.525),
        ("16", "mm", "metric", 16.0),
        ("1,250 lb", "kg", "imperial", 1250 * 0.45359237),
        ("4 lb 8 oz", "kg", "metric", 4.5 * 0.45359237),
        ("0,250", "kg", "metric", 0.25),
        ("1,234.5 kg", "kg", "metric", 1234.5),
        ("-4 F", "°C", "metric", -20.0),
        ("−4", "°C", "imperial", -20.0),
        ("32 °F", "°C", "imperial", 0.0),
        ("20%", "%", "metric", 20.0),
        ("12 volts", "V", "imperial", 12.0),
        ("-0.28", "%/°C", "imperial", -0.28),
    ],
)
def test_other_quantities_are_read(text, unit, system, value):
    assert units.read(text, unit, system) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "'",
        "1e9",
        "nan",
        "inf",
        "twelve",
        "5 kg",
        "12 apples",
        "7 m 20",
        "5--4",
        "1.2.3",
        "1/0",
        "9 +",
    ],
)
def test_what_is_no_length_is_refused_with_the_text_and_an_example(text):
    with pytest.raises(units.UnitError, match=r"cannot be read|not a number|divides by zero"):
        units.read(text, "m", "metric")


def test_a_comma_that_can_be_read_two_ways_is_asked_about():
    with pytest.raises(units.UnitError, match=r"1250 or 1\.250"):
        units.read("1,250", "kg", "metric")


def test_two_temperatures_are_not_added():
    with pytest.raises(units.UnitError):
        units.read("4 F 3 F", "°C", "metric")


@pytest.mark.parametrize(
    ("value", "unit", "imperial", "metric"),
    [
        (3.81, "m", "12' 6\"", "3.81 m"),
        (12 * FT + 0.5 * IN, "m", "12' 0 1/2\"", "3.67 m"),
        (0.0, "m", '0"', "0.00 m"),
        (-0.1, "m", '-3 7/8"', "-0.10 m"),  # 3.937 in
        (0.035, "m", '1 3/8"', "0.035 m"),
        (6.096, "m_run", "20.0 ft", "6.1 m"),
        (9.5, "mm", "3/8 in", "9.5 mm"),
        (406, "mm", "16 in", "406 mm"),
        (57.1, "kg", "126 lb", "57.1 kg"),
        (2.0, "kg", "4.4 lb", "2.0 kg"),
        (-20, "°C", "-4 °F", "-20 °C"),
        (-0.001, "V", "0.0 V", "0.0 V"),
        (3144, "Wh", "3,144 Wh", "3,144 Wh"),
        (math.nan, "V", "–", "–"),
    ],
)
def test_a_quantity_is_printed_as_the_trade_writes_it(value, unit, imperial, metric):
    assert units.show(value, unit, "imperial") == imperial
    assert units.show(value, unit, "metric") == metric


def test_what_is_drilled_is_printed_in_sixteenths():
    assert units.show(0.1, "m", "imperial", parts=units.SIXTEENTHS) == '3 15/16"'


@pytest.mark.parametrize(
    ("value", "unit", "imperial"),
    [
        (406, "mm", 406.4),  # 16 in
        (150, "mm", 152.4),  # 6 in
        (9.5, "mm", 9.525),  # 3/8 in
        (50, "mm", 50.8),  # 2 in
        (1.07, "m", 1.0668),  # 42 in
        (113, "kg", 113.398093),  # 250 lb
        (-20, "°C", -20.5555556),  # -5 °F
        (12, "V", 12),
    ],
)
def test_a_suggested_value_is_round_in_the_shops_own_units(value, unit, imperial):
    assert units.tidy(value, unit, "imperial") == pytest.approx(imperial, rel=1e-8)
    assert units.tidy(value, unit, "metric") == value


@pytest.mark.parametrize(
    ("value", "unit", "imperial"),
    [(2.4, "m", "8'"), (0.3, "m", "1'"), (9000, "kg", "19,800 lb"), (9.5, "mm", "3/8 in"), (0, "V", "0 V")],
)
def test_a_usual_range_is_told_in_round_figures(value, unit, imperial):
    assert units.rough(value, unit, "imperial") == imperial


def test_half_is_rounded_away_from_zero():
    assert [units.number_text(x, 0) for x in (0.5, 1.5, 2.5, -0.5)] == ["1", "2", "3", "-1"]
    assert units.number_text(2.675, 2) == "2.68"
