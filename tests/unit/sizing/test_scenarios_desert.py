"""December in the desert: what the sun gives, what is short, what would help; worked by hand (F1 to F8)."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import Bus, InverterInput, LoadRow, Remedy, TravelLeg, Verdict
from tests.designs import P400, controller, golden, lfp_bank, placed


def desert(**changes):
    """Return full-timers at 33.4° N in December: 1200 W flat, 400 Ah of lithium."""
    design = replace(
        golden(),
        autonomy_days=2.0,
        loads=(
            LoadRow("DC appliances", Bus.DC, 2065.0 / 24, 1.0, 24.0, is_critical=True),
            LoadRow("internet", Bus.AC, 75.0, 1.0, 16.0),
            LoadRow("other AC", Bus.AC, 1160.0, 1.0, 1.0),
        ),
        legs=(TravelLeg("desert", 33.4, None, (12,), clearness_kt=0.60),),
        design_month=12,
        panels=placed(P400, 3),
        strings=(),
        controllers=(controller(150, 100),),  # 100 A × 13.6 V passes 1200 W at any hour
        circuits=(),
        sources=(),
        bank=lfp_bank(4),
        inverter=InverterInput("inverter 2 kW", 2000.0, 25.0, 24.0),
    )
    return replace(design, **changes)


def figures(design):
    return {figure.key: figure.value for figure in sizing.size_system(design).figures}


def advice(design, remedy):
    return [found for found in sizing.energy_advice(design) if found.remedy is remedy]


def test_use_and_harvest():
    result = sizing.size_system(desert())
    assert result.energy.e_day_wh == pytest.approx(5411, abs=10)
    assert result.harvest[0].psh_h == pytest.approx(2.97, abs=0.005)
    assert result.harvest[0].harvest_wh == pytest.approx(2673, abs=10)
    assert result.harvest[0].balance_wh == pytest.approx(-2738, abs=10)
    assert result.check("energy/harvest").verdict is Verdict.CAUTION


def test_the_bank_bridges_not_two_days():
    result = sizing.size_system(desert())
    assert result.bank.usable_wh == pytest.approx(4608, abs=10)
    assert figures(desert())["bank/days_to_empty"] == pytest.approx(1.7, abs=0.05)
    assert result.bank.required_wh == pytest.approx(12_024, abs=10)
    assert result.bank.required_ah == pytest.approx(939, abs=1)


def test_tilting_every_day_and_as_credited():
    tilted = replace(desert().legs[0], tilt_deg=45.0)
    every_day = replace(tilted, tilt_uptake_fraction=1.0)
    assert sizing.tilt_gain(33.4, 12, 45.0) == pytest.approx(1.69, abs=0.005)
    full = sizing.size_system(desert(legs=(every_day,))).harvest[0]
    assert full.harvest_wh == pytest.approx(4517, abs=10)
    credited = sizing.size_system(desert(legs=(tilted,))).harvest[0]
    assert credited.harvest_wh == pytest.approx(3780, abs=10)
    assert credited.balance_wh == pytest.approx(-1631, abs=10)


def test_each_remedy_says_what_it_brings():
    design = desert()
    assert advice(design, Remedy.INVERTER_OFF)[0].gain_wh == pytest.approx(200)
    assert advice(design, Remedy.CUT_LOAD)[0].title == "internet off at night"
    assert advice(design, Remedy.CUT_LOAD)[0].gain_wh == pytest.approx(75 * 8 / 0.88)
    assert advice(design, Remedy.MORE_ROOF)[0].gain_wh == pytest.approx(3564 - 2673, abs=10)
    assert "1,600 W would give" in advice(design, Remedy.MORE_ROOF)[0].sentence
    assert "4,520 Wh if tilted" in advice(design, Remedy.TILT)[0].sentence
    assert advice(design, Remedy.TILT)[0].gain_wh == pytest.approx(3780 - 2673, abs=10)
    assert advice(design, Remedy.ENGINE)[0].gain_wh == pytest.approx(258, abs=1)
    assert advice(design, Remedy.GENERATOR)[0].closes_gap
    assert "3.4 hours" in advice(design, Remedy.GENERATOR)[0].sentence
    assert advice(design, Remedy.MOVE_TO_GAS_OR_SHORE)[0].title == "other AC by gas or shore"
    assert advice(design, Remedy.DC_VERSION)[0].gain_wh == pytest.approx(1200 / 0.88 - 1200 / 0.97)
    assert not advice(design, Remedy.BIGGER_BANK)[0].closes_gap


def test_remedies_come_in_honest_order():
    found = [each.remedy for each in sizing.energy_advice(desert())]
    assert found == sorted(found)


def test_no_gap_needs_no_advice():
    assert sizing.energy_advice(golden()) == ()


def test_no_sun_known_gives_no_advice():
    assert sizing.energy_advice(desert(legs=())) == ()


def test_advice_leaves_out_what_does_not_apply():
    bare = desert(inverter=None, panels=(), loads=(LoadRow("pump", Bus.DC, 100.0, 1.0, 5.0),))
    kinds = {each.remedy for each in sizing.energy_advice(bare)}
    assert kinds == {Remedy.ENGINE, Remedy.GENERATOR, Remedy.BIGGER_BANK}


def test_polar_and_already_tilted_legs_get_no_tilt_advice():
    polar = TravelLeg("far north", 70.0, None, (6,), clearness_kt=0.01)
    assert not advice(desert(legs=(polar,), design_month=6), Remedy.TILT)
    tilted = replace(desert().legs[0], tilt_deg=30.0)
    assert not advice(desert(legs=(tilted,)), Remedy.TILT)
    assert sizing.size_system(desert(legs=(replace(polar, tilt_deg=30.0),))).harvest[0].harvest_wh > 0


def test_summer_tilt_is_a_loss_and_not_proposed():
    june = replace(desert().legs[0], latitude_deg=5.0, months=(6,), clearness_kt=0.2)
    assert not advice(desert(legs=(june,), design_month=6), Remedy.TILT)


def test_air_conditioner_hours():
    hours = sizing.air_conditioner_hours_h(
        power_w=1500.0, duty_fraction=0.6, usable_wh=4608.0, spare_wh=-1000.0
    )
    assert hours == pytest.approx(3608 * 0.88 / 900)
    assert (
        sizing.air_conditioner_hours_h(power_w=1500.0, duty_fraction=0.6, usable_wh=100.0, spare_wh=-500.0)
        == 0.0
    )
    with pytest.raises(sizing.InputOutOfRange, match="power_w"):
        sizing.air_conditioner_hours_h(power_w=0.0, duty_fraction=0.6, usable_wh=1.0, spare_wh=1.0)
