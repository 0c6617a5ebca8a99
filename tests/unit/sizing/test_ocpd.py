"""Devices: rounding, families and string fuses at their edges."""

from __future__ import annotations

import math

import pytest

from sizing.cable.overcurrent import (
    dc_ratings,
    device_limits_compared,
    families,
    family,
    round_up,
    string_fuse,
)
from sizing.cable.rulesets import StringFuseMethod, rule_set_title
from sizing.cable.rulesets import facts as rule_facts
from sizing.core.inputs import InputOutOfRange, RuleSet


@pytest.mark.parametrize(
    ("needed_a", "rating_a"), [(0, 1), (15, 15), (15.0000001, 20), (31.875, 35), (1201, None)]
)
def test_rounding_up(needed_a, rating_a):
    assert round_up(needed_a) == rating_a


@pytest.mark.parametrize("needed_a", [-1.0, math.nan, math.inf])
def test_rounding_refuses_what_is_no_current(needed_a):
    with pytest.raises(InputOutOfRange, match="0 A or more"):
        round_up(needed_a)


def test_dc_ratings_are_made_by_someone():
    made = {rating for each in families() for rating in each.ratings_a}
    assert set(dc_ratings()) <= made
    assert 45.0 not in dc_ratings()


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("class T", "class_t"),
        ("Class-T fuse", "class_t"),
        ("class_t", "class_t"),
        ("strip", "strip"),
        ("mini blade", "blade_mini"),
        ("blade", "blade"),
        ("maxi", "blade_maxi"),
        ("gPV", "gpv"),
        ("terminal fuse at the post", "post"),
        ("sf51", "bolt_large"),
    ],
)
def test_families_are_found_by_what_people_write(text, key):
    found = family(text)
    assert found is not None
    assert found.key == key


@pytest.mark.parametrize(
    ("text", "now"),
    [
        ("MRBF", "terminal fuse at the post"), ("ANL 300 A", "bolt-in strip fuse"),
        ("ann", "bolt-in strip fuse"),
        ("MIDI", "small bolt-down (ISO 8820-5 SF30)"), ("AMI", "small bolt-down (ISO 8820-5 SF30)"),
        ("MEGA fuse", "large bolt-down (ISO 8820-5 SF51)"), ("AMG", "large bolt-down (ISO 8820-5 SF51)"),
    ],
)  # fmt: skip
def test_a_design_stored_with_an_older_name_keeps_its_answer(text, now):
    """ISO 8820-5 prints SF30 and SF51 for the two bolt-down sizes the older words stood for."""
    assert family(text) is family(now)
    assert family("megawatt") is None  # a word, not a piece of one


@pytest.mark.parametrize("text", ["", "  ", "something else", "plan"])
def test_unknown_families_stay_unknown(text):
    assert family(text) is None


def test_interrupting_rating_falls_with_voltage():
    post = family("post")
    assert [post.interrupting_a(volts) for volts in (12, 24, 48, 60)] == [10_000, 5_000, 2_000, None]
    assert post.rating_a(101) == 125


def test_blade_fuses_are_not_for_48_volts():
    assert family("blade").dc_voltage_v == 32


@pytest.mark.parametrize(("np", "isc_a", "field"), [(0, 5, "np"), (2, 0, "isc_a"), (2, math.nan, "isc_a")])
def test_string_fuse_refuses_what_cannot_be(np, isc_a, field):
    with pytest.raises(InputOutOfRange, match=field):
        string_fuse(np, isc_a, 15)


def test_one_string_never_needs_a_fuse():
    assert string_fuse(1, 10, None).is_required is False


def test_without_a_data_sheet_nothing_is_known():
    found = string_fuse(2, 10, None)
    assert found.is_required is None
    assert found.fits is None


def test_a_panel_limit_below_the_rating_does_not_fit():
    assert string_fuse(3, 13.8, 20).fits is False


def test_back_feed_equal_to_the_limit_needs_no_fuse():
    assert string_fuse(2, 12, 15).is_required is False


def test_beyond_the_largest_rating_nothing_fits():
    found = string_fuse(2, 900, 1000)
    assert found.rating_a is None
    assert found.fits is None


def test_iec_window():
    found = string_fuse(3, 1.1, 20, StringFuseMethod.IEC_62548)
    assert (found.rating_a, found.fits) == (2.0, True)
    tight = string_fuse(3, 0.4, 20, StringFuseMethod.IEC_62548)
    assert (tight.rating_a, tight.fits) == (1.0, False)  # 1 A is above 2.4 × 0.4 A


def test_limits_side_by_side_are_only_printed_for_small_wire():
    assert device_limits_compared("4/0") == (
        ("33 CFR below 50 V", 667.5, "33 CFR 183.455(c)(1): 150% of table 5"),
        ("marine base", 445.0, "ABYC E-11 105 °C column"),
    )
    assert device_limits_compared("") == ()


@pytest.mark.parametrize("rule_set", list(RuleSet))
def test_every_rule_set_names_its_edition(rule_set):
    assert rule_facts(rule_set).edition in rule_set_title(rule_set)
