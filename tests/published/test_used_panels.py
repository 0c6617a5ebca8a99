"""Used panels by age and by measured current: arithmetic on paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import Verdict
from sizing.energy.array_power import effective_pmp_w
from tests.designs import P200 as SHEET  # Imp 9.80 A, Isc 10.2 A, 200 W
from tests.designs import golden, placed, wired

FOUR = placed(SHEET, 4)


def with_used(**facts):
    """Return the reference design, 2S2P, its first panel used."""
    used = replace(FOUR[0], is_used=True, **facts)
    return replace(golden(), panels=(used, *FOUR[1:]), strings=wired(4, 2), circuits=())


def check_of(system):
    return sizing.size_system(system).check("panel:p1/used")


def test_age_takes_half_a_percent_a_year():
    """Median of Jordan and Kurtz (2013): 12 years leave 1 - 12 × 0.005 = 94 %."""
    check = check_of(with_used(age_years=12.0))
    assert check.value == pytest.approx(0.94)
    assert check.verdict is Verdict.PASS  # 94 % is not below 90 % of its sisters


def test_a_measurement_wins_over_age():
    """7.14 A in 875 W/m² are 7.14 × 1000/875 = 8.16 A at 1000 W/m²: 8.16/10.2 = 80 %."""
    check = check_of(with_used(age_years=2.0, measured_isc_a=7.14, measured_at_w_m2=875.0))
    assert check.value == pytest.approx(0.80)
    assert check.limit == pytest.approx(0.90)
    assert check.verdict is Verdict.CAUTION
    assert "holds back" in check.sentence
    assert "Jordan and Kurtz" in check.source


def test_its_string_carries_no_more_than_it():
    """Its string gives 2 × 20.4 V × 7.84 A, as one at 80 %: (200 + 160) × 0.8 × 400/(0.8·200+200)… on paper:
    volts 40.8, amps 7.84 + 9.80 = 17.64, 719.7 W; all four new would be 40.8 × 19.6 = 799.7 W, labeled 800.
    """
    power = effective_pmp_w(with_used(measured_isc_a=8.16, measured_at_w_m2=1000.0))
    assert power == pytest.approx(719.7, abs=0.5)
    assert effective_pmp_w(with_used(age_years=0.0)) == 800.0


def test_cold_volts_and_fuses_go_by_the_sheet():
    """What is weak today may have been measured badly: limits that hurt people stay with the data sheet."""
    weak = sizing.size_system(with_used(measured_isc_a=5.0, measured_at_w_m2=1000.0))
    new = sizing.size_system(replace(golden(), circuits=()))
    assert weak.controllers[0].voc_cold_v == new.controllers[0].voc_cold_v
    assert weak.controllers[0].isc_a == new.controllers[0].isc_a


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, "or its age"),
        ({"measured_isc_a": 8.0}, "the light"),
        ({"measured_isc_a": 3.0, "measured_at_w_m2": 300.0}, "400 W/m² or more"),
    ],
)
def test_what_nobody_knows_is_no_pass(facts, words):
    check = check_of(with_used(**facts))
    assert check.verdict is Verdict.NOT_ENOUGH_DATA
    assert words in check.sentence


def test_more_than_the_sheet_counts_as_the_sheet():
    assert effective_pmp_w(with_used(measured_isc_a=11.0, measured_at_w_m2=1000.0)) == 800.0


def test_a_reading_no_panel_gives_is_no_pass():
    """25 A in 1000 W/m² on a sheet of 10.2 A are 245 %: amps, light or sheet are wrong."""
    check = check_of(with_used(measured_isc_a=25.0, measured_at_w_m2=1000.0))
    assert check.verdict is Verdict.NOT_ENOUGH_DATA
    assert "245.1%" in check.sentence
    assert (
        check_of(with_used(measured_isc_a=12.2, measured_at_w_m2=1000.0)).verdict is Verdict.PASS
    )  # 119.6 %


def test_more_than_the_sheet_is_said_as_read():
    check = check_of(with_used(measured_isc_a=11.0, measured_at_w_m2=1000.0))  # 11/10.2 = 1.0784
    assert check.substituted == "11 × 1000/1,000/10.2 = 107.84%, counted as 100%"


def test_sisters_as_old_are_no_reason_for_a_flag():
    """All at 85 %: none is below 90 % of the others."""
    facts = {"is_used": True, "measured_isc_a": 8.67, "measured_at_w_m2": 1000.0}
    old = replace(golden(), panels=tuple(replace(each, **facts) for each in FOUR), circuits=())
    result = sizing.size_system(old)
    assert {result.check(f"panel:p{n}/used").verdict for n in range(1, 5)} == {Verdict.PASS}


def test_new_panels_are_not_asked_about():
    assert not [check for check in sizing.size_system(golden()).checks if check.key.endswith("/used")]
