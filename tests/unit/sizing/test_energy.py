"""Use, harvest and climate: edges and refusals."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import (
    Bus,
    ChargeSourceInput,
    InverterInput,
    LoadRow,
    ShadeHabit,
    SourceKind,
    TravelLeg,
    Verdict,
)
from tests.designs import P100, P200, controller, golden, placed, wired


def harvest_of(leg, **changes):
    return sizing.size_system(replace(golden(), legs=(leg,), **changes)).harvest


class TestDailyEnergy:
    def test_without_an_inverter_ac_appliances_still_count(self):
        energy = sizing.daily_energy((LoadRow("TV", Bus.AC, 88.0, 1.0, 1.0),), None)
        assert energy.e_day_wh == pytest.approx(100.0)
        assert energy.e_idle_wh == 0.0

    def test_an_impossible_efficiency_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match="efficiency_fraction"):
            sizing.daily_energy((), InverterInput("x", 1000.0, efficiency_fraction=0.0))

    @pytest.mark.parametrize(
        ("changes", "name"),
        [
            ({"depth_of_discharge_fraction": 0.0}, "depth_of_discharge_fraction"),
            ({"k_temp": 1.5}, "k_temp"),
            ({"autonomy_days": -1.0}, "e_day_wh"),
        ],
    )
    def test_impossible_banks_are_named_errors(self, changes, name):
        asked = {"autonomy_days": 1.0, "depth_of_discharge_fraction": 0.9, **changes}
        with pytest.raises(sizing.InputOutOfRange, match=name):
            sizing.required_bank_wh(1000.0, **asked)


class TestHarvest:
    def test_a_leg_without_longitude_is_unknown(self):
        months = harvest_of(TravelLeg("somewhere", 45.0, None, (6,)))
        assert months[0].harvest_wh is None
        assert "longitude" in months[0].source

    def test_open_sea_is_unknown_and_not_a_pass(self):
        result = sizing.size_system(replace(golden(), legs=(TravelLeg("sea", 0.0, -30.0, (6,)),)))
        assert result.harvest[0].psh_h is None
        assert result.check("energy/harvest").verdict is Verdict.NOT_ENOUGH_DATA

    def test_no_leg_at_all_is_not_enough_data(self):
        check = sizing.size_system(replace(golden(), legs=())).check("energy/harvest")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "a travel leg" in check.sentence

    def test_the_grid_answers_for_a_place(self):
        months = harvest_of(TravelLeg("desert town", 33.45, -112.07, tuple(range(1, 13))))
        assert [month.month for month in months] == list(range(1, 13))
        assert months[5].harvest_wh > 2 * months[11].harvest_wh
        assert "CRU CL 2.0" in months[0].source

    def test_the_design_month_rules_else_the_poorest(self):
        leg = TravelLeg("desert town", 33.45, -112.07, (6, 12))
        june = sizing.size_system(replace(golden(), legs=(leg,), design_month=6))
        poorest = sizing.size_system(replace(golden(), legs=(leg,), design_month=None))
        assert june.check("energy/harvest").value == pytest.approx(june.harvest[0].harvest_wh)
        assert poorest.check("energy/harvest").value == pytest.approx(poorest.harvest[1].harvest_wh)

    def test_a_design_month_nobody_travels_in_falls_back(self):
        leg = TravelLeg("desert town", 33.45, -112.07, (6,))
        result = sizing.size_system(replace(golden(), legs=(leg,), design_month=1))
        assert result.check("energy/harvest").value == pytest.approx(result.harvest[0].harvest_wh)

    def test_shade_habit(self):
        ample = {"controllers": (controller(rated_a=80),)}  # lets everything through
        open_sky = harvest_of(TravelLeg("camp", 45.0, None, (6,), ShadeHabit.OPEN, psh_h=6.4), **ample)
        woods = harvest_of(TravelLeg("camp", 45.0, None, (6,), ShadeHabit.WOODS, psh_h=6.4), **ample)
        assert woods[0].harvest_wh == pytest.approx(0.35 * open_sky[0].harvest_wh)

    def test_poor_and_fine_days_lie_around_the_mean(self):
        month = harvest_of(TravelLeg("camp", 45.0, None, (6,), psh_h=6.0))[0]
        assert month.poor_day_wh < month.harvest_wh < month.fine_day_wh

    def test_polar_night_has_no_days(self):
        month = harvest_of(TravelLeg("north", 80.0, None, (12,), psh_h=0.0))[0]
        assert (month.harvest_wh, month.poor_day_wh) == (0.0, None)

    def test_panels_in_no_string_give_nothing_once_strings_are_drawn(self):
        part = replace(golden(), panels=placed(P200, 4), strings=wired(2, 2), circuits=())
        assert sizing.size_system(part).harvest[0].harvest_wh == pytest.approx(1920)
        none_drawn = replace(part, strings=(), controllers=(controller(rated_a=80),))
        assert sizing.size_system(none_drawn).harvest[0].harvest_wh == pytest.approx(3840)

    def test_no_panels_fall_short(self):
        result = sizing.size_system(replace(golden(), panels=(), strings=(), circuits=()))
        assert result.check("energy/harvest").verdict is Verdict.CAUTION
        assert result.check("energy/array_margin").verdict is Verdict.NOT_ENOUGH_DATA

    def test_negative_factors_are_named_errors(self):
        with pytest.raises(sizing.InputOutOfRange, match="psh_h"):
            sizing.harvest_wh(pmp_w=100.0, psh_h=-1.0, k_sys=0.75)
        with pytest.raises(sizing.InputOutOfRange, match="clearness_kt"):
            sizing.psh_from_clearness_h(45.0, 6, 1.2)

    def test_shore_and_engine_are_credited(self):
        shore = ChargeSourceInput(
            "s", SourceKind.CONVERTER, "charger", 45.0, limited_to_a=20.0, shore_hours_per_day=2.0
        )
        result = sizing.size_system(replace(golden(), sources=(shore,), circuits=()))
        found = {figure.key: figure.value for figure in result.figures}
        assert found["source:s/shore"] == pytest.approx(20 * 13.6 * 2)
        assert found["energy/balance"] == pytest.approx(3840 - 3143.53 + 544, abs=1)


class TestSky:
    @pytest.mark.parametrize(
        "call",
        [
            lambda: sizing.extraterrestrial_kwh_m2(91.0, 17),
            lambda: sizing.extraterrestrial_kwh_m2(45.0, 0),
            lambda: sizing.psh_from_clearness_h(45.0, 13, 0.5),
            lambda: sizing.shadow_length_m(0.3, 0.1, 0.0),
            lambda: sizing.shadow_length_m(-0.3, 0.1, 20.0),
            lambda: sizing.tilt_gain(70.0, 6, 30.0),
            lambda: sizing.tilt_gain(45.0, 6, 95.0),
            lambda: sizing.tilt_gain(45.0, 6, 30.0, albedo=2.0),
            lambda: sizing.climate_at(100.0, 0.0),
            lambda: sizing.climate_at(0.0, 200.0),
        ],
    )
    def test_impossible_questions_are_named_errors(self, call):
        with pytest.raises(sizing.InputOutOfRange):
            call()

    def test_polar_night_and_midnight_sun(self):
        assert sizing.extraterrestrial_kwh_m2(80.0, 344) == 0.0
        assert sizing.extraterrestrial_kwh_m2(80.0, 162) > 10.0

    def test_the_southern_winter_gains_by_tilting_north(self):
        assert sizing.tilt_gain(-40.0, 6, 45.0) > 1.5


class TestClimate:
    def test_a_higher_camp_is_colder(self):
        low = sizing.climate_at(40.0, -105.5, 1500.0)
        high = sizing.climate_at(40.0, -105.5, 3000.0)
        assert low.temp_air_min_c[0] - high.temp_air_min_c[0] == pytest.approx(9.75)
        assert high.lowest_20_years_c < low.lowest_20_years_c < low.mean_yearly_lowest_c

    def test_lowest_temperatures_follow_the_fitted_formulas(self):
        """Formulas: -7.49 + 1.074·c + 0.116·t_low and -11.54 + 1.034·c + 0.232·t_low."""
        found = sizing.climate_at(45.2, -100.0)
        coldest = min(found.temp_air_min_c)
        t_low = (found.mean_yearly_lowest_c + 7.49 - 1.074 * coldest) / 0.116
        assert found.lowest_20_years_c == pytest.approx(-11.54 + 1.034 * coldest + 0.232 * t_low)

    def test_the_date_line_joins(self):
        west, east = sizing.climate_at(66.0, 179.95), sizing.climate_at(66.0, -179.95)
        assert west is not None
        assert east is not None
        assert west.ghi_kwh_m2_day[5] == pytest.approx(east.ghi_kwh_m2_day[5], rel=0.1)

    def test_sea_and_pole_have_none(self):
        assert sizing.climate_at(0.0, -30.0) is None
        assert sizing.climate_at(89.0, 0.0) is None

    def test_the_grid_says_how_good_it_is(self):
        assert sizing.climate_at(39.0, -95.0).quality == "adjusted to stations nearby"


class TestDayShare:
    def test_the_ten_days_average_the_month(self):
        shares = [sizing.day_share(45.0, 6, 6.0, (day + 0.5) / 10) for day in range(10)]
        assert sum(shares) / 10 == pytest.approx(1.0)
        assert shares == sorted(shares)

    def test_a_cloudless_month_has_no_poor_days(self):
        assert sizing.day_share(30.0, 6, 9.0, 0.1) > 0.85

    def test_no_sun_no_share(self):
        assert sizing.day_share(80.0, 12, 0.0, 0.5) is None


def test_two_legs_of_one_name_each_keep_their_own_shade():
    """December in the woods, 0.35: 800 W × 2 h × 0.35 × 0.75 = 420 Wh, and the sum says so."""
    legs = (
        TravelLeg("home", 45.0, -90.0, (6,), psh_h=6.0),
        TravelLeg("home", 45.0, -90.0, (12,), shade_habit=ShadeHabit.WOODS, psh_h=2.0),
    )
    check = sizing.size_system(replace(golden(), legs=legs, design_month=12)).check("energy/harvest")
    assert check.substituted == "800 × 2 × 1 × 0.35 × 0.75 = 420 Wh"


def test_a_deep_cut_is_not_said_to_be_short():
    """15 A × 14.2 V of 0.85 × 800 W = 680 W: 69 % is cut off, and most of a June day with it."""
    design = replace(golden(), controllers=(controller(rated_a=15.0),))
    result = sizing.size_system(design)
    assert "few hours" not in result.check("controller:A/clip").sentence
    assert "only behind a controller for more" in result.check("energy/array_margin").sentence


def test_panels_on_pwm_give_no_more_while_no_string_is_drawn():
    """P100 at the battery: 5.38 A × 13.2 V = 71.0 W, not 100 W; × 6.4 h × 0.75 = 340.9 Wh."""
    pwm = controller(limit_v=50.0, rated_a=30.0, kind=sizing.ControllerKind.PWM)
    design = replace(golden(), panels=placed(P100, 1), strings=(), controllers=(pwm,))
    assert sizing.size_system(design).harvest[0].harvest_wh == pytest.approx(340.9, abs=0.1)
