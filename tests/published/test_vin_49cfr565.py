"""The check digit against 49 CFR 565.15: its worked sample, and two strings widely printed as examples.

From memory: the regulation's sample is 1G4AH59H?5G118341, sum 411, remainder 4; seventeen ones give 1.
"""

from __future__ import annotations

import pytest

from jobs.customers.vin import vin_check_digit, vin_has_shape


@pytest.mark.parametrize(
    ("vin", "digit"),
    [("1G4AH59H45G118341", "4"), ("1M8GDM9AXKP042788", "X"), ("11111111111111111", "1")],
)
def test_check_digit_matches_the_printed_sample(vin, digit):
    assert vin_has_shape(vin)
    assert vin_check_digit(vin) == digit == vin[8]


@pytest.mark.parametrize(
    "vin", ["1M8GDM9AXKP04278", "1M8GDM9AXKP04278O", "IM8GDM9AXKP042788", "1M8GDM9AXKP0427Q8"]
)
def test_letters_never_used_and_wrong_lengths_have_no_vin_shape(vin):
    assert not vin_has_shape(vin)
