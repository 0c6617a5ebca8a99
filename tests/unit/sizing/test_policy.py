"""What a shop holds itself to where no standard sets a limit: stricter or milder, and said to be its own."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing.core.checks import Verdict
from tests.designs import golden


def checked(key, **policy):
    found = sizing.size_system(replace(golden(), policy=sizing.PolicyInput(**policy)))
    return found.check(key)


def test_the_starting_values_are_those_shops_begin_with():
    """20 kA as a guide to ABYC E-11 quotes for large banks; the shares are shop defaults, no source."""
    assert sizing.PolicyInput() == sizing.PolicyInput(20_000.0, 0.97, 0.5, 0.10)


@pytest.mark.parametrize(
    ("key", "policy", "limit"),
    [
        ("controller:A/cold_voc", {"cold_volts_fraction": 0.9}, 90.0),  # of 100 V
        ("vehicle/cargo_left", {"cargo_left_fraction": 0.2}, 120.0),  # of a 600 kg label
        ("roof/uplift", {"foot_use_fraction": 0.3}, 0.3),
        ("circuit:C4/interrupting", {"lithium_main_interrupt_a": 25_000.0}, 25_000.0),
    ],
)
def test_the_shop_sets_the_limit_and_the_check_says_whose_it_is(key, policy, limit):
    found = checked(key, **policy)
    assert found.limit == pytest.approx(limit)
    assert "shop policy" in found.source


def test_more_strings_in_series_where_the_shop_uses_all_of_the_limit():
    """Two P200 in series on 56.3 V are a pass at 57 % of 100 V, a caution at 55 %."""
    assert checked("controller:A/cold_voc", cold_volts_fraction=0.57).verdict is Verdict.PASS
    assert checked("controller:A/cold_voc", cold_volts_fraction=0.55).verdict is Verdict.CAUTION


@pytest.mark.parametrize(
    "policy",
    [
        {"lithium_main_interrupt_a": 500.0},
        {"cold_volts_fraction": 1.2},
        {"foot_use_fraction": 0.9},
        {"cargo_left_fraction": -0.1},
    ],
)
def test_a_policy_that_cannot_be_is_a_named_error(policy):
    with pytest.raises(sizing.InputOutOfRange, match=next(iter(policy))):
        checked("bank/series", **policy)
