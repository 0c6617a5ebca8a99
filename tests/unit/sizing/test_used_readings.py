"""What a string of used panels is expected to read when it is tested."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from tests.designs import P200, placed


def used(years: float, number: int) -> sizing.PlacedPanel:
    return replace(placed(P200, 2)[number], is_used=True, age_years=years)


def test_a_string_of_panels_of_one_age_reads_what_they_still_give():
    """20 years at 0.5 % (Jordan and Kurtz 2013) leave 0.90: 10.2 A × 0.90 = 9.18 A by hand."""
    found = sizing.as_it_reads([used(20, 0), used(20, 1)])
    assert found.isc_a == pytest.approx(9.18)
    assert found.voc_v == P200.voc_v


def test_a_new_panel_carries_the_short_circuit_past_an_old_one():
    """At short circuit the bypass diode of the weaker panel conducts: textbook, no single source."""
    assert sizing.as_it_reads([used(20, 0), placed(P200, 2)[1]]).isc_a == pytest.approx(10.2)


def test_nothing_is_expected_of_no_panels():
    assert sizing.as_it_reads([]) is None
