"""Laws of reading and printing quantities."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from common import units

LENGTH_KINDS = st.sampled_from(["m", "mm", "m_run"])


@given(value=st.floats(-50, 50), system=st.sampled_from(["imperial", "metric"]))
def test_what_is_printed_reads_back_within_half_an_eighth_and_in_a_form_half_a_sixteenth(value, system):
    for say, parts in ((units.show, 8), (units.typed, 16)):
        read = units.read(say(value, "m", system), "m", system)
        assert read == pytest.approx(value, abs=0.0254 / (2 * parts) + 1e-9)


@given(inches=st.integers(1, 600))
def test_feet_in_or_metres_in_is_the_same_length(inches):
    feet, rest = divmod(inches, 12)
    in_trade = units.read(f"{feet}' {rest}\"", "m", "imperial")
    assert in_trade == pytest.approx(units.read(f"{inches * 25.4:.4f} mm", "m", "metric"), abs=1e-9)


@given(
    value=st.floats(0.001, 1e5),
    unit=st.sampled_from(["kg", "L", "N·m", "Pa", "V", "A", "m/s"]),
    system=st.sampled_from(["imperial", "metric"]),
)
def test_a_form_shows_a_value_fine_enough_to_come_back(value, unit, system):
    shown = units.KINDS[unit].display(system)
    step = units.convert(10.0 ** -(max(shown.digits, 1) + 1), shown.unit, units.KINDS[unit].si_unit)
    assert units.read(units.typed(value, unit, system), unit, system) == pytest.approx(value, abs=step)


@given(celsius=st.floats(-60, 60), more=st.floats(0.5, 40))
def test_warmer_prints_warmer(celsius, more):
    cold, warm = (float(units.show(t, "°C", "imperial").split()[0]) for t in (celsius, celsius + more))
    assert warm >= cold


@given(text=st.text(max_size=20))
def test_any_text_is_a_finite_number_or_a_refusal_in_words(text):
    try:
        value = units.read(text, "m", "imperial")
    except units.UnitError:
        return  # any other kind of error fails the test
    assert math.isfinite(value)
