"""Harvest by the weakest panel, the lowest string, the controller's limit and the heater: worked on paper."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing.core.inputs import ControllerKind, StringInput, TravelLeg
from sizing.energy.array_power import Sky, array_groups, clipped_wh, effective_pmp_w
from sizing.sun.sky import hour_shares
from tests.designs import P100, P200, controller, golden, lfp_bank, placed

TWO = (placed(P200, 1)[0], replace(placed(P100, 1)[0], id="p2"))  # 9.80 A at 20.4 V, 5.38 A at 18.6 V
EQUATOR = TravelLeg("equator", 0.0, None, (3,), psh_h=6.0)  # twelve hours of sun on every day


def asked(**changes):
    return replace(golden(), circuits=(), **changes)


def month(**changes):
    return sizing.size_system(asked(**changes)).harvest[0]


def in_series(*names):
    return (StringInput("S1", "A", names),)


class TestAsWired:
    def test_a_string_carries_its_weakest_panels_amps(self):
        """5.38 A × (20.4 + 18.6) V = 209.8 W, not the 300 W on the labels."""
        power = effective_pmp_w(asked(panels=TWO, strings=in_series("p1", "p2")))
        assert power == pytest.approx(209.8, abs=0.2)

    def test_strings_side_by_side_work_at_the_lower_volts(self):
        """18.6 V × (9.80 + 5.38) A = 282.3 W."""
        side_by_side = (StringInput("S1", "A", ("p1",)), StringInput("S2", "A", ("p2",)))
        assert effective_pmp_w(asked(panels=TWO, strings=side_by_side)) == pytest.approx(282.3, abs=0.2)

    def test_pwm_pulls_a_whole_string_to_the_battery(self):
        """5.38 A × 13.2 V = 71.0 W: two in series on 12 V give no more than one."""
        pwm = (controller(50.0, 20.0, kind=ControllerKind.PWM),)
        two = asked(panels=placed(P100, 2), strings=in_series("p1", "p2"), controllers=pwm)
        assert effective_pmp_w(two) == pytest.approx(71.0, abs=0.05)

    def test_like_panels_give_what_their_labels_say(self):
        assert effective_pmp_w(golden()) == 800.0

    def test_a_panel_in_no_string_gives_nothing(self):
        assert effective_pmp_w(asked(panels=TWO, strings=in_series("p1"))) == 200.0


class TestHourShares:
    def test_an_hour_of_january_in_melbourne(self):
        """38° S, 17 January, 8 to 9 o'clock: a 0.778, b 0.311, r = 0.1309·0.967·0.906/1.512 = 0.0759.

        Equations of Collares-Pereira and Rabl (1979) worked on paper.
        """
        shares = hour_shares(-38.0, 1)
        assert sum(shares) == pytest.approx(1.0)
        noon = len(shares) // 2
        assert shares[noon - 4] == pytest.approx(0.0759, abs=0.001)  # the fourth hour before noon
        assert shares == pytest.approx(shares[::-1])

    def test_polar_night_has_no_hours(self):
        assert hour_shares(80.0, 12) == ()


class TestClipping:
    def test_a_tiny_controller_passes_its_rating_all_day_and_no_more(self):
        """1 A × 13.6 V × 12 h = 163.2 Wh at most; the first and last hours of poor days lie below it."""
        found = month(legs=(EQUATOR,), controllers=(controller(rated_a=1.0),), k_sys=0.85)
        assert 0.9 * 163.2 <= found.harvest_wh <= 163.2
        assert found.fine_day_wh == pytest.approx(163.2, rel=0.03)
        assert found.harvest_wh + found.clipped_wh == pytest.approx(800 * 6.0 * 0.85)

    def test_a_controller_large_enough_takes_nothing(self):
        """0.85 × 800 W × 1.1 kW/m² = 748 W is less than 60 A × 13.6 V = 816 W."""
        found = month(legs=(EQUATOR,), controllers=(controller(rated_a=60.0),))
        assert found.clipped_wh == 0.0
        assert found.harvest_wh == pytest.approx(800 * 6.0 * 0.75)

    def test_a_noon_hour_by_hand(self):
        """At the equator in March ω_s is 90°, a 0.6598, b 0.4226; the hours beside noon hold
        π/24·(0.6598 + 0.4226·0.9914)·0.9914 = 0.1400 of the day, 0.1409 once the twelve add up to 1 (they
        add up to 0.9936). 0.85·800 W·6 h·0.1409 = 574.9 W: a limit of 40 A × 13.6 V = 544 W cuts 30.9 W
        in each of these two hours of a mean day; the next (0.1278: 521.5 W) pass."""
        group = array_groups(asked(controllers=(controller(rated_a=40.0),)))[0]
        lost = clipped_wh(group, Sky(0.0, 3, 6.0, 1.0, 0.85))
        assert lost == pytest.approx(2 * 30.9, abs=0.2)

    def test_the_mean_day_loses_what_fine_days_lose_and_poor_ones_do_not(self):
        found = month(legs=(EQUATOR,), controllers=(controller(rated_a=42.0),), k_sys=0.85)
        assert found.clipped_wh > 0
        assert found.poor_day_wh < found.harvest_wh < found.fine_day_wh

    def test_a_second_controller_lets_the_rest_through(self):
        one = month(legs=(EQUATOR,), controllers=(controller(rated_a=20.0),))
        half = replace(controller(rated_a=20.0), id="B")
        strings = (replace(golden().strings[0]), replace(golden().strings[1], controller_id="B"))
        both = month(legs=(EQUATOR,), controllers=(controller(rated_a=20.0), half), strings=strings)
        assert both.harvest_wh > 1.5 * one.harvest_wh

    def test_what_is_cut_is_said(self):
        check = sizing.size_system(
            asked(legs=(EQUATOR,), controllers=(controller(rated_a=10.0),), design_month=None)
        ).check("energy/harvest")
        assert "The controllers pass" in check.sentence
        assert check.value == pytest.approx(
            month(legs=(EQUATOR,), controllers=(controller(rated_a=10.0),)).harvest_wh
        )


class TestAdvice:
    def test_more_panels_bring_only_what_the_controller_passes(self):
        """Full all day: 400 W more bring the edges of the day, not half as much again."""
        full = asked(legs=(EQUATOR,), controllers=(controller(rated_a=5.0),), design_month=None)
        (more,) = (each for each in sizing.energy_advice(full) if each.remedy is sizing.Remedy.MORE_ROOF)
        assert 0 <= more.gain_wh < 0.15 * sizing.size_system(full).harvest[0].harvest_wh
        assert "larger ones would give more" in more.sentence


class TestHeater:
    def cold(self, **more):
        return lfp_bank(
            3, **{"is_inside": False, "tmin_c": -20.0, "is_heated": True, "heater_w": 60.0, **more}
        )

    def test_a_morning_of_heating_comes_off_the_balance(self):
        """38.1 kg × 1000 J/(kg·K) × 25 K × 1.5/3600 = 396.9 Wh; without a climate the coldest cell counts."""
        leg = replace(EQUATOR, months=(1,))
        bare, heated = (month(legs=(leg,), bank=self.cold(heater_w=watts)) for watts in (0.0, 60.0))
        assert heated.heater_wh == pytest.approx(396.9, abs=0.1)
        assert heated.balance_wh == pytest.approx(bare.balance_wh - 396.9, abs=0.1)
        assert heated.harvest_wh == bare.harvest_wh
        result = sizing.size_system(asked(legs=(leg,), bank=self.cold(), design_month=None))
        assert result.check("energy/harvest").limit == pytest.approx(result.energy.e_day_wh + 396.9, abs=0.1)
        balance = next(figure for figure in result.figures if figure.key == "energy/balance")
        assert balance.value == pytest.approx(result.harvest[0].balance_wh + _credit(result), abs=0.1)

    def test_a_heater_gives_no_more_than_its_watts_all_day(self):
        """10 W × 24 h = 240 Wh."""
        leg = replace(EQUATOR, months=(1,))
        assert month(legs=(leg,), bank=self.cold(heater_w=10.0)).heater_wh == pytest.approx(240.0)

    def test_warm_months_and_warm_places_take_none(self):
        phoenix = TravelLeg("desert town", 33.4, -112.1, (1, 7))
        january, july = sizing.size_system(asked(legs=(phoenix,), bank=self.cold())).harvest
        assert july.heater_wh == 0.0
        assert 0.0 <= january.heater_wh < 100.0  # nights of about 5 °C
        inside = replace(self.cold(), is_inside=True, tmin_c=None)
        assert month(legs=(replace(EQUATOR, months=(1,)),), bank=inside).heater_wh == 0.0

    def test_a_pack_nobody_weighed_is_taken_by_its_energy(self):
        """3 × 12.8 V × 100 Ah/100 Wh/kg = 38.4 kg: 400 Wh; common practice, no source."""
        leg = replace(EQUATOR, months=(1,))
        found = month(legs=(leg,), bank=self.cold(unit_mass_kg=0.0))
        assert found.heater_wh == pytest.approx(400.0, abs=0.1)

    def test_a_night_nobody_knows_is_heated_all_day(self):
        leg = replace(EQUATOR, months=(1,))
        unknown = asked(legs=(leg,), bank=self.cold(tmin_c=None), tmin_travel_c=None)
        assert sizing.size_system(unknown).harvest[0].heater_wh == pytest.approx(24 * 60.0)


def _credit(result):
    return sum(
        figure.value
        for figure in result.figures
        if figure.key.endswith(("/engine", "/shore")) and figure.value
    )
