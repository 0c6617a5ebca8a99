"""Ampacity step by step: edges, refusals, what the steps say (values are checked under tests/published)."""

from __future__ import annotations

import pytest

from sizing.cable.ampacity import Laying, cable_ampacity, rooftop_adder_c, small_conductor_limit_a
from sizing.cable.conductors import conductor
from sizing.core.checks import Provenance
from sizing.core.inputs import InputOutOfRange, RuleSet

MARINE, C75, C90, METRIC = RuleSet.MARINE_105C, RuleSet.CODE_75C, RuleSet.CODE_90C, RuleSet.METRIC


@pytest.mark.parametrize("laying", [Laying(bundle_count=0), Laying(parallel_conductors=0)])
def test_it_refuses_a_bundle_of_none(laying):
    with pytest.raises(InputOutOfRange, match="at least 1 conductor"):
        cable_ampacity(MARINE, conductor("10"), laying)


def test_every_step_carries_its_source():
    found = cable_ampacity(C90, conductor("10"), Laying(bundle_count=6, ambient_c=42))
    assert [step.kind for step in found.steps] == ["base", "factor", "factor", "cap"]
    assert all(step.source for step in found.steps)
    assert found.formula == "I_z = min(I_table × k_1 × k_2, I_terminal)"
    assert found.substituted == "40 A × 0.87 × 0.8 = 27.84 A; terminals 35 A; usable 27.84 A"
    assert [term.value for term in found.terms] == [40, 0.87, 0.8, 35]
    assert "310.15" in found.source


def test_marine_has_no_terminal_column():
    found = cable_ampacity(MARINE, conductor("10"), Laying())
    assert found.terminal_a is None
    assert found.formula == "I_z = I_table"
    assert found.substituted == "60 A = 60 A"


@pytest.mark.parametrize(
    ("rule_set", "laying"),
    [
        (MARINE, Laying(insulation_c=50)),
        (MARINE, Laying(ambient_c=100)),
        (C75, Laying(ambient_c=90)),
        (C75, Laying(terminal_c=50)),
        (METRIC, Laying(insulation_c=50)),
        (METRIC, Laying(bundle_count=50)),
    ],
)
def test_what_is_not_printed_is_not_known(rule_set, laying):
    found = cable_ampacity(rule_set, conductor("10"), laying)
    assert found.usable_a is None
    assert found.max_ocpd_a is None
    assert found.provenance is Provenance.MEMORY


def test_what_is_missing_is_named():
    assert "‹100 °C|212 °F› air" in cable_ampacity(MARINE, conductor("10"), Laying(ambient_c=100)).missing


def test_a_size_too_thin_for_the_table_is_not_known():
    assert cable_ampacity(C75, conductor("1.5", "metric"), Laying()).usable_a is None
    assert cable_ampacity(METRIC, conductor("18"), Laying()).usable_a is None


def test_hottest_column_not_above_the_insulation():
    assert cable_ampacity(MARINE, conductor("10"), Laying(insulation_c=90)).usable_a == 55
    assert cable_ampacity(MARINE, conductor("10"), Laying(insulation_c=200)).usable_a == 60
    assert cable_ampacity(C90, conductor("10"), Laying(insulation_c=60, terminal_c=60)).usable_a == 30


def test_other_insulation_in_an_engine_space_rests_on_memory():
    found = cable_ampacity(MARINE, conductor("10"), Laying(insulation_c=90, in_engine_space=True))
    assert found.usable_a == pytest.approx(55 * 0.82)
    assert found.provenance is Provenance.MEMORY


def test_heat_counts_once():
    """An engine space and its hot air describe the same heat: the harder factor counts, not the product."""
    found = cable_ampacity(MARINE, conductor("10"), Laying(in_engine_space=True, ambient_c=60))
    assert found.usable_a == pytest.approx(60 * 0.77)


def test_engine_space_without_a_printed_factor_is_not_known():
    found = cable_ampacity(MARINE, conductor("10"), Laying(insulation_c=50, in_engine_space=True))
    assert found.usable_a is None


def test_code_counts_an_engine_space_as_50_degrees():
    hot = cable_ampacity(C90, conductor("10"), Laying(in_engine_space=True))
    assert hot.corrected_a == pytest.approx(40 * 0.82)


def test_metric_counts_heat_and_groups():
    found = cable_ampacity(METRIC, conductor("16", "metric"), Laying(ambient_c=45, bundle_count=4))
    assert found.usable_a == pytest.approx(100 * 0.87 * 0.80)
    assert found.provenance is Provenance.PRINTED


def test_metric_at_ten_circuits_takes_the_next_printed_row():
    found = cable_ampacity(METRIC, conductor("16", "metric"), Laying(bundle_count=20))
    assert found.usable_a == pytest.approx(100 * 0.45)


@pytest.mark.parametrize(("insulation_c", "amps"), [(70, 90), (60, 54)])
def test_metric_70_degree_cable_rests_on_memory(insulation_c, amps):
    found = cable_ampacity(METRIC, conductor("16", "metric"), Laying(insulation_c=insulation_c, ambient_c=25))
    assert found.usable_a == amps
    assert found.provenance is Provenance.MEMORY


def test_metric_60_degree_cable_in_heat():
    found = cable_ampacity(METRIC, conductor("16", "metric"), Laying(insulation_c=70, ambient_c=40))
    assert found.usable_a == pytest.approx(90 * 0.82)


@pytest.mark.parametrize(
    ("clearance_m", "is_hot"), [(None, True), (0.01, True), (0.0222, True), (0.0223, False)]
)
def test_the_rooftop_adder_needs_seven_eighths_of_an_inch(clearance_m, is_hot):
    laying = Laying(on_roof_in_sun=True, roof_clearance_m=clearance_m)
    found = cable_ampacity(C90, conductor("10"), laying)
    assert found.corrected_a == pytest.approx(40 * (0.65 if is_hot else 1.0))


def test_the_adder_by_edition():
    assert rooftop_adder_c() == 33.0
    assert rooftop_adder_c("2023") == 33.0


@pytest.mark.parametrize("rule_set", [MARINE, METRIC])
def test_roof_in_sun_takes_thirty_percent_elsewhere(rule_set):
    plain = cable_ampacity(rule_set, conductor("10 mm2"), Laying())
    roof = cable_ampacity(rule_set, conductor("10 mm2"), Laying(on_roof_in_sun=True))
    assert roof.usable_a == pytest.approx(0.7 * plain.usable_a)
    assert roof.provenance is Provenance.SHOP_DEFAULT


def test_another_systems_size_counts_as_the_next_smaller_printed_one():
    assert cable_ampacity(MARINE, conductor("16 mm2"), Laying()).usable_a == 120  # as 6 AWG, 13.3 mm²
    assert cable_ampacity(METRIC, conductor("6"), Laying()).usable_a == 75  # as 10 mm²
    assert cable_ampacity(C75, conductor("10 SAE"), Laying()).usable_a == 25  # as 12 AWG
    assert cable_ampacity(MARINE, conductor("10 SAE"), Laying()).usable_a == 60  # E-11 rates both alike


def test_cables_in_parallel_add_up():
    one = cable_ampacity(C75, conductor("2/0"), Laying())
    two = cable_ampacity(C75, conductor("2/0"), Laying(parallel_conductors=2))
    assert (two.usable_a, two.terminal_a) == (2 * one.usable_a, 2 * one.terminal_a)


@pytest.mark.parametrize(
    ("rule_set", "size", "count", "largest_a"),
    [
        (C75, "14", 1, 15),
        (C75, "8", 1, 50),
        (C75, "3", 1, 100),
        (C75, "500 kcmil", 1, 400),
        (C75, "500 kcmil", 3, 1000),
        (MARINE, "14", 1, 35),
        (METRIC, "16 mm2", 1, 100),
    ],
)
def test_largest_device(rule_set, size, count, largest_a):
    """NFPA 70 (2017) 240.4(B): next size up to 800 A, above that the next size down; 240.4(D) small sizes."""
    found = cable_ampacity(rule_set, conductor(size), Laying(parallel_conductors=count))
    assert found.max_ocpd_a == largest_a
    assert found.ocpd_reason


def test_small_conductor_limits():
    assert small_conductor_limit_a("12") == 20
    assert small_conductor_limit_a("8") is None


def test_90_degree_marine_cable_takes_the_90_degree_ambient_factor():
    """NFPA 70 (2017) 310.15(B)(2)(a): 0.91 at 40 °C."""
    found = cable_ampacity(MARINE, conductor("10"), Laying(insulation_c=90, ambient_c=40))
    assert found.usable_a == pytest.approx(55 * 0.91)
