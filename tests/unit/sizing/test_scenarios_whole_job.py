"""The reference design as a whole: every number an estimator would read off it, worked by hand beforehand.

Panel and controller data are invented; the formulas are those of DEVELOPERS.md (F1 to F28) and the expected
values were computed by hand from them, not by this engine.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import Quantity, Verdict
from tests.designs import P200, golden


@pytest.fixture(scope="module")
def result():
    return sizing.size_system(golden())


def test_daily_use(result):
    assert result.energy.e_dc_wh == pytest.approx(1775)
    assert result.energy.e_ac_wh == pytest.approx(980)
    assert result.energy.e_day_wh == pytest.approx(3143.5, abs=0.1)


def test_june_harvest_covers_the_use(result):
    check = result.check("energy/harvest")
    assert result.harvest[0].harvest_wh == pytest.approx(3840, abs=10)
    assert result.harvest[0].balance_wh == pytest.approx(696, abs=10)
    assert check.verdict is Verdict.PASS


def test_the_array_is_two_percent_short_of_a_quarter_over_break_even(result):
    check = result.check("energy/array_margin")
    assert check.limit == pytest.approx(819, abs=1)
    assert check.margin == pytest.approx(-0.023, abs=0.002)
    assert check.verdict is Verdict.CAUTION


def test_bank_lasts_a_day_of_the_one_and_a_half_asked_for(result):
    assert result.bank.usable_wh == pytest.approx(3456, abs=10)
    assert result.bank.autonomy_days == pytest.approx(1.10, abs=0.005)
    assert result.bank.required_ah == pytest.approx(409, abs=1)
    assert result.check("bank/autonomy").verdict is Verdict.CAUTION


def test_cold_volts(result):
    check = result.check("controller:A/cold_voc")
    assert check.value == pytest.approx(56.1, abs=0.1)
    assert check.limit == pytest.approx(97.0)
    assert check.verdict is Verdict.PASS


def test_hot_volts(result):
    assert result.controllers[0].vmp_hot_v == pytest.approx(34.2, abs=0.1)
    assert result.check("controller:A/hot_run").limit == pytest.approx(15.2)
    assert result.check("controller:A/hot_run").verdict is Verdict.PASS


def test_no_string_fuses(result):
    assert result.controllers[0].back_feed_a == pytest.approx(12.75, abs=0.1)
    assert result.controllers[0].needs_string_fuse is False
    assert result.check("string:S1/fuse").verdict is Verdict.PASS


def test_array_device_and_home_run(result):
    row = next(row for row in result.circuits if row.id == "C2")
    assert result.controllers[0].array_device_a == 35
    assert row.design_a == pytest.approx(31.9, abs=0.1)
    assert row.ampacity_a == pytest.approx(42, abs=0.1)
    assert row.drop_v == pytest.approx(0.93, abs=0.1)
    assert row.drop_fraction == pytest.approx(0.0227, abs=0.0005)
    assert row.verdict is Verdict.PASS


def test_controller_output_is_not_clipped(result):
    assert result.controllers[0].output_peak_a == pytest.approx(53.1, abs=0.1)
    assert result.controllers[0].clip_fraction == 0
    assert result.check("controller:A/clip").verdict is Verdict.PASS


def test_inverter_cable_and_bank_current(result):
    row = next(row for row in result.circuits if row.id == "C6")
    assert row.continuous_a == pytest.approx(197.6, abs=0.1)
    assert row.design_a == pytest.approx(247, abs=0.1)
    assert row.drop_v == pytest.approx(0.121, abs=0.005)
    assert row.drop_fraction == pytest.approx(0.010, abs=0.0005)
    assert result.check("bank/discharge").limit == 300
    assert result.check("bank/discharge").verdict is Verdict.PASS
    assert result.check("circuit:C4/interrupting").verdict is Verdict.PASS


def test_uplift_on_plywood_and_on_rafters(result):
    check = result.check("roof/uplift")
    assert check.value == pytest.approx(0.66, abs=0.01)
    assert check.verdict is Verdict.CAUTION
    design = golden()
    on_rafters = replace(design, roof=replace(design.roof, feet_on_rafter=16))
    check = sizing.size_system(on_rafters).check("roof/uplift")
    assert check.value == pytest.approx(0.25, abs=0.005)
    assert check.verdict is Verdict.PASS


def test_holes(result):
    assert result.penetrations.penetrations == 72
    assert result.penetrations.cable_holes == 1


def test_net_weight(result):
    assert result.weight.net_added_kg == pytest.approx(57.1, abs=0.1)


def test_charge_sum(result):
    check = result.check("bank/charge_sum")
    assert check.value == pytest.approx(95)
    assert check.limit == pytest.approx(150)
    assert check.verdict is Verdict.PASS


def test_expected_readings_on_the_roof():
    expected = sizing.expected_readings(P200, ns=2, poa_global_w_m2=820, temp_cell_c=48)
    assert expected.voc_v == pytest.approx(45.1, abs=0.1)
    assert expected.isc_a == pytest.approx(8.46, abs=0.1)
    good = sizing.judge_reading(Quantity.VOC, 45.0, expected, poa_global_w_m2=820, string_id="S1")
    assert good.verdict is Verdict.PASS


def test_nothing_blocks_and_every_check_names_its_source(result):
    assert not [check.key for check in result.checks if check.blocks]
    assert result.verdict is Verdict.CAUTION
    assert not [check.key for check in result.checks if not check.source]
    assert len({check.key for check in result.checks}) == len(result.checks)


def test_every_figure_can_be_opened(result):
    assert not [figure.key for figure in result.figures if not (figure.formula and figure.source)]
    assert len({figure.key for figure in result.figures}) == len(result.figures)


def test_break_even_by_clearness():
    """45° N in June, Kt 0.55: 6.4 peak sun hours."""
    assert sizing.psh_from_clearness_h(45.0, 6, 0.55) == pytest.approx(6.4, abs=0.05)
    design = golden()
    leg = replace(design.legs[0], psh_h=None, clearness_kt=0.55)
    months = sizing.size_system(replace(design, legs=(leg,))).harvest
    assert months[0].harvest_wh == pytest.approx(3840, abs=40)


def test_lead_asks_for_a_far_larger_bank():
    design = golden()
    lead = replace(
        design.bank,
        chemistry=sizing.Chemistry.FLOODED,
        unit_nominal_v=12.0,
        tmin_c=0.0,
        is_inside=False,
        maker_absorb_low_v=None,
        maker_absorb_high_v=None,
    )
    bank = sizing.size_system(replace(design, bank=lead)).bank
    # At 0 °C lead keeps 0.84 (a maker's page: -16 %), by hand 3,144 Wh × 1.5 d / (0.5 × 0.84) = 11,227 Wh.
    assert bank.required_wh == pytest.approx(11_227, abs=10)
    assert bank.required_ah == pytest.approx(935.6, abs=1)


def test_a_guess_marks_every_result_that_rests_on_it():
    marked = sizing.size_system(
        replace(golden(), guesses=frozenset({"loads", "site.tmin_storage", "circuit:C2.run_len"}))
    )
    assert marked.check("energy/harvest").guesses == ("loads",)
    assert marked.check("bank/autonomy").guesses == ("loads",)
    assert marked.check("controller:A/cold_voc").guesses == ("site.tmin_storage",)
    assert marked.check("controller:A/hot_run").guesses == ("circuit:C2.run_len",)
    assert marked.check("bank/charge_sum").guesses == ()


def test_every_judged_number_can_be_opened(result):
    judged = [check for check in result.checks if check.value is not None]
    assert not [check.key for check in judged if not (check.formula and check.substituted)]
