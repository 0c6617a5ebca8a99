"""The bank and what charges it: edges and refusals. All equipment is invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import BankInput, ChargeSourceInput, Chemistry, Provenance, SourceKind, Verdict
from sizing.battery.battery import capacity_factor
from tests.designs import controller, golden, lfp_bank

GEL = BankInput(Chemistry.GEL, 12.0, 100.0, 4, max_discharge_a=100.0)


def sized(**changes):
    return sizing.size_system(replace(golden(), circuits=(), **changes))


def source(**changes):
    base = ChargeSourceInput("s", SourceKind.CONVERTER, "charger", 40.0, absorb_v=14.4, low_t_stop_c=5.0)
    return replace(base, **changes)


class TestBank:
    def test_no_bank_is_not_enough_data(self):
        result = sized(bank=None)
        assert result.check("bank/autonomy").verdict is Verdict.NOT_ENOUGH_DATA
        assert result.bank.usable_wh is None
        assert not [check for check in result.checks if check.key == "bank/charge_sum"]

    def test_no_use_is_not_enough_data_for_days(self):
        result = sized(loads=(), inverter=None)
        assert result.bank.autonomy_days is None
        assert result.check("bank/autonomy").verdict is Verdict.NOT_ENOUGH_DATA

    def test_the_shops_own_depth_of_discharge_wins(self):
        result = sized(bank=lfp_bank(3, depth_of_discharge_fraction=0.8))
        assert result.bank.usable_wh == pytest.approx(3 * 100 * 12.8 * 0.8)

    def test_a_bank_outside_loses_capacity_in_the_cold(self):
        outside = sized(bank=lfp_bank(3, is_inside=False, tmin_c=0.0))
        assert outside.bank.usable_wh == pytest.approx(3456 * 0.9)
        heated = sized(bank=lfp_bank(3, is_inside=False, tmin_c=0.0, is_heated=True))
        assert heated.bank.usable_wh == pytest.approx(3456)

    def test_outside_without_a_figure_takes_the_route(self):
        result = sized(bank=lfp_bank(3, is_inside=False), tmin_travel_c=0.0)
        assert result.bank.usable_wh == pytest.approx(3456 * 0.9)
        unknown = sized(bank=lfp_bank(3, is_inside=False), tmin_travel_c=None)
        assert unknown.bank.usable_wh == pytest.approx(3456)

    @pytest.mark.parametrize(
        ("chemistry", "cell_c", "factor"),
        [
            (Chemistry.LFP, 30.0, 1.0),
            (Chemistry.LFP, 0.0, 0.9),
            (Chemistry.LFP, -20.0, 0.70),
            (Chemistry.AGM, 12.5, 0.92),
            (Chemistry.AGM, -10.0, 0.645),
            (Chemistry.AGM, -20.0, 0.45),
        ],
    )
    def test_capacity_in_the_cold(self, chemistry, cell_c, factor):
        """Lead 0.84 at 0 °C (a battery maker's page: 16 % less); the lower of two sellers' figures at -20 °C,
        0.45, and 0.70 for lithium, from memory; lithium 0.9 at 0 °C from memory. Straight lines between.
        """
        assert capacity_factor(chemistry, cell_c) == pytest.approx(factor)

    def test_deep_cold_never_goes_below_a_tenth(self):
        assert capacity_factor(Chemistry.AGM, -90.0) == 0.1

    def test_series_batteries_must_make_the_system_voltage(self):
        assert sized(bank=lfp_bank(3)).check("bank/series").verdict is Verdict.PASS
        assert sized(bank=lfp_bank(4, in_series=2)).check("bank/series").verdict is Verdict.BLOCK

    def test_an_unknown_discharge_limit_is_not_enough_data(self):
        result = sized(bank=lfp_bank(3, max_discharge_a=None))
        assert result.check("bank/discharge").verdict is Verdict.NOT_ENOUGH_DATA

    @pytest.mark.parametrize(
        "changes", [{"capacity_ah": 0.0}, {"current_a": -1.0}, {"k": 0.9}, {"rated_hours_h": float("nan")}]
    )
    def test_impossible_peukert_questions_are_named_errors(self, changes):
        asked = {"capacity_ah": 100.0, "current_a": 5.0, "k": 1.2, **changes}
        with pytest.raises(sizing.InputOutOfRange):
            sizing.peukert_hours_h(asked.pop("capacity_ah"), asked.pop("current_a"), **asked)


class TestChargeSum:
    def test_without_a_makers_limit_the_chemistry_rules(self):
        result = sized(bank=lfp_bank(2, max_charge_a=None))
        check = result.check("bank/charge_sum")
        assert check.limit == pytest.approx(100)
        assert "0.5 C" in check.source

    def test_no_chargers_no_sum(self):
        result = sized(controllers=(), strings=(), sources=())
        assert not [check for check in result.checks if check.key.startswith("bank/charge")]

    def test_an_idle_controller_charges_nothing(self):
        spare = replace(controller(), id="B")
        assert sized(controllers=(controller(), spare)).check("bank/charge_sum").value == pytest.approx(95)

    def test_the_heaviest_allowed_set_counts(self):
        outputs = {"a": 50.0, "b": 40.0, "c": 30.0}
        pair = frozenset((frozenset(("a", "b")),))
        assert sizing.simultaneous_charge_a(outputs, pair) == pytest.approx(80.0)
        assert sizing.simultaneous_charge_a(outputs, frozenset()) == pytest.approx(120.0)

    def test_too_many_sources_ignore_interlocks_on_the_safe_side(self):
        outputs = {f"s{i}": 1.0 for i in range(25)}
        assert sizing.simultaneous_charge_a(outputs, frozenset((frozenset(("s0", "s1")),))) == 25.0

    def test_a_negative_output_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match=r"sources\.a\.output_a"):
            sizing.simultaneous_charge_a({"a": -1.0}, frozenset())


class TestProfile:
    def test_a_voltage_above_the_range_blocks(self):
        check = sized(sources=(source(absorb_v=15.2),)).check("source:s/profile")
        assert check.verdict is Verdict.BLOCK
        assert check.limit == pytest.approx(14.6)

    def test_a_voltage_below_the_range_is_a_caution(self):
        check = sized(sources=(source(absorb_v=13.6),)).check("source:s/profile")
        assert check.verdict is Verdict.CAUTION
        assert check.limit == pytest.approx(14.2)

    def test_without_a_makers_range_the_printed_one_of_the_chemistry_judges(self):
        """Charger manuals print 14.4 and 14.5 V and cells below 3.65 V: 14.0 to 14.6 V for four cells."""
        bank = lfp_bank(3, maker_absorb_low_v=None, maker_absorb_high_v=None)
        check = sized(bank=bank, sources=(source(),)).check("source:s/profile")
        assert (check.verdict, check.provenance) == (Verdict.PASS, sizing.Provenance.PRINTED)

    def test_an_unset_profile_is_not_enough_data(self):
        check = sized(sources=(source(absorb_v=None),)).check("source:s/profile")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_bare_charge_wire_on_lithium_is_a_caution(self):
        wire = source(kind=SourceKind.TOW_CHARGE_WIRE, absorb_v=None)
        assert sized(sources=(wire,)).check("source:s/profile").verdict is Verdict.CAUTION
        assert sized(bank=GEL, sources=(wire,)).check("source:s/profile").verdict is Verdict.PASS

    @pytest.mark.parametrize(
        ("chemistry", "verdict"),
        [
            (Chemistry.LFP, Verdict.BLOCK),
            (Chemistry.GEL, Verdict.BLOCK),
            (Chemistry.AGM, Verdict.CAUTION),
            (Chemistry.FLOODED, Verdict.PASS),
        ],
    )
    def test_equalise(self, chemistry, verdict):
        bank = replace(GEL, chemistry=chemistry)
        check = sized(bank=bank, sources=(source(equalise_on=True),)).check("source:s/equalise")
        assert check.verdict is verdict

    def test_twenty_four_volts_double_the_range(self):
        bank = replace(GEL, in_series=2)
        unit = replace(controller(), absorb_v=28.4)
        check = sized(v_nominal_v=24.0, bank=bank, controllers=(unit,), sources=()).check(
            "controller:A/profile"
        )
        assert check.limit == pytest.approx(28.8)
        assert check.verdict is Verdict.PASS


class TestColdCharging:
    def test_lead_in_deep_cold_blocks_without_a_stop(self):
        bank = replace(GEL, is_inside=False, tmin_c=-30.0)
        check = sized(bank=bank, sources=(source(low_t_stop_c=None),)).check("source:s/cold_charge")
        assert check.verdict is Verdict.BLOCK

    def test_lead_in_frost_is_a_caution(self):
        bank = replace(GEL, is_inside=False, tmin_c=-10.0)
        check = sized(bank=bank, sources=(source(low_t_stop_c=None),)).check("source:s/cold_charge")
        assert check.verdict is Verdict.CAUTION

    def test_a_warm_bank_needs_no_stop(self):
        bank = lfp_bank(3, tmin_c=10.0)
        check = sized(bank=bank, sources=(source(low_t_stop_c=None),)).check("source:s/cold_charge")
        assert check.verdict is Verdict.PASS

    def test_a_warm_heated_pack_has_no_heating_figures(self):
        result = sized(bank=lfp_bank(3, tmin_c=10.0, is_heated=True, heater_w=100.0))
        assert not [figure for figure in result.figures if "warm_up" in figure.key]


class TestFloat:
    @pytest.mark.parametrize(
        ("float_v", "verdict", "limit"),
        [(13.5, Verdict.PASS, 13.8), (14.2, Verdict.CAUTION, 13.8), (12.9, Verdict.CAUTION, 13.2)],
    )
    def test_float_within_the_printed_range(self, float_v, verdict, limit):
        """Lithium battery supplier's note: 13.2 to 13.8 V."""
        check = sized(sources=(source(float_v=float_v),)).check("source:s/float")
        assert check.verdict is verdict
        assert check.limit == pytest.approx(limit)


class TestInverterHours:
    def hours(self, **changes):
        figures = {figure.key: figure.value for figure in sized(**changes).figures}
        return figures.get("bank/inverter_hours")

    def test_lithium_by_its_amp_hours(self):
        """300 Ah / 197.63 A × 0.9."""
        assert self.hours() == pytest.approx(300 / 197.63 * 0.9, abs=0.001)

    def test_lead_by_peukert(self):
        """400 Ah at 20 h, 2000 W from 10.5 V at 0.88: 216.45 A; 20·(400/(216.45·20))^1.15 × 0.5."""
        expected = 20 * (400 / (216.45 * 20)) ** 1.15 * 0.5
        assert self.hours(bank=GEL) == pytest.approx(expected, abs=0.001)
        assert self.hours(bank=replace(GEL, peukert_k=1.0)) == pytest.approx(400 / 216.45 * 0.5, abs=0.001)

    def test_no_inverter_no_hours(self):
        assert self.hours(inverter=None) is None


class TestHigherBanks:
    def forty_eight(self, **changes):
        bank = replace(lfp_bank(4), in_series=4)
        return sized(v_nominal_v=48.0, bank=bank, **changes)

    def test_forty_eight_volts_ask_for_care_and_a_step_down(self):
        result = self.forty_eight()
        assert result.check("bank/touch_voltage").verdict is Verdict.CAUTION
        assert result.check("bank/step_down").verdict is Verdict.CAUTION
        assert result.check("controller:A/hot_start").limit == pytest.approx(14.2 + 5)

    def test_current_falls_to_a_quarter(self):
        """3 kW at 46 V and 0.88 is 74 A."""
        inverter = sizing.InverterInput("inverter 3 kW", 3000.0)
        check = self.forty_eight(inverter=inverter).check("bank/discharge")
        assert check.value == pytest.approx(74.1, abs=0.1)

    def test_the_start_margin_rises_with_the_bank(self):
        """V_abs 14.2 × 4 = 56.8 V, + 5 V to start."""
        unit = replace(controller(), absorb_v=None)
        check = self.forty_eight(controllers=(unit,)).check("controller:A/hot_start")
        assert check.limit == pytest.approx(61.8)

    def test_twenty_four_volts_without_dc_appliances_ask_for_nothing(self):
        result = sized(v_nominal_v=24.0, bank=lfp_bank(4, in_series=2), loads=())
        keys = {check.key for check in result.checks}
        assert "bank/step_down" not in keys
        assert "bank/touch_voltage" not in keys


class TestProfileRows:
    def rows(self, **changes):
        return sizing.profile_rows(replace(golden(), circuits=(), **changes))

    def test_lithium(self):
        row = self.rows()[0]
        assert (row.absorb_v, row.equalise, row.temp_comp_mv_per_c) == (14.2, "never", None)
        assert row.low_t_stop_c == 5.0
        assert row.max_a == pytest.approx(50.0)
        assert "no equalize" in row.sentence

    def test_a_setting_out_of_range_is_replaced(self):
        row = self.rows(sources=(source(absorb_v=15.5),))[1]
        assert row.absorb_v == pytest.approx(14.2)

    @pytest.mark.parametrize(
        ("chemistry", "equalise"),
        [
            (Chemistry.GEL, "never"),
            (Chemistry.AGM, "only if its maker asks"),
            (Chemistry.FLOODED, "15.5 to 16.2 V, at most 2 h, vented"),
        ],
    )
    def test_lead(self, chemistry, equalise):
        row = self.rows(bank=replace(GEL, chemistry=chemistry))[0]
        assert row.equalise == equalise
        assert row.temp_comp_mv_per_c == pytest.approx(-24.0)
        assert row.low_t_stop_c == -20.0
        assert "one day in five" in row.sentence
        assert "-24 mV/°C" in row.sentence

    def test_a_bare_charge_wire_cannot_be_set(self):
        wire = source(kind=SourceKind.TOW_CHARGE_WIRE)
        row = self.rows(sources=(wire,))[1]
        assert not row.is_settable
        assert row.sentence.startswith("A bare charge wire cannot be set")

    def test_the_rows_are_stored_with_the_answer(self):
        design = replace(golden(), circuits=())
        assert sizing.size_system(design).profiles == sizing.profile_rows(design)

    def test_without_a_bank_there_is_nothing_to_set(self):
        assert self.rows(bank=None) == ()


class TestUnmeasuredBankInside:
    """An inside bank nobody measured: storage rules unless kept warm, 2 K above the air (shop default)."""

    def cold(self, *, stop_c=None, travel_c=-5.0, storage_c=-30.0, **bank):
        return sized(
            tmin_travel_c=travel_c,
            tmin_storage_c=storage_c,
            bank=lfp_bank(3, **bank),
            controllers=(),
            strings=(),
            panels=(),
            sources=(source(low_t_stop_c=stop_c),),
        ).check("source:s/cold_charge")

    def test_stored_unheated_it_gets_as_cold_as_storage(self):
        """-30 °C of storage and 2 K of lag: -28 °C."""
        check = self.cold()
        assert (check.verdict, check.value) == (Verdict.BLOCK, -28.0)
        assert self.cold(is_kept_warm=False).verdict is Verdict.BLOCK

    def test_kept_warm_without_a_stop_rests_on_the_heating(self):
        check = self.cold(is_kept_warm=True)
        assert (check.verdict, check.value) == (Verdict.CAUTION, 5.0)
        assert "heating" in check.sentence

    def test_a_stop_as_stated_is_enough_either_way(self):
        for warm in (None, False, True):
            check = self.cold(stop_c=5.0, is_kept_warm=warm)
            assert (check.verdict, check.provenance) == (Verdict.PASS, Provenance.MAKER)

    def test_a_stop_too_low_is_never_worse_than_none(self):
        assert self.cold(stop_c=-10.0, is_kept_warm=True).verdict is Verdict.CAUTION
        assert self.cold(stop_c=-10.0).verdict is Verdict.BLOCK

    def test_without_a_storage_minimum_nobody_knows(self):
        assert self.cold(storage_c=None).verdict is Verdict.NOT_ENOUGH_DATA
        assert self.cold(storage_c=None, is_kept_warm=True).verdict is Verdict.CAUTION
        assert self.cold(storage_c=None, is_inside=False).verdict is Verdict.NOT_ENOUGH_DATA

    def test_where_it_never_freezes_nothing_is_asked(self):
        """4 °C + 2 K = 6 °C, above the 5 °C below which lithium is charged gently."""
        assert self.cold(travel_c=4.0, storage_c=4.0).verdict is Verdict.PASS
        assert self.cold(travel_c=2.0, storage_c=2.0).verdict is Verdict.CAUTION

    def test_outside_the_air_itself_rules(self):
        check = self.cold(is_inside=False, storage_c=-10.0, is_kept_warm=True)
        assert (check.verdict, check.value) == (Verdict.BLOCK, -10.0)

    def test_between_0_and_5_degrees_the_lower_printed_rate(self):
        """A lithium battery manual prints 0.1 C at 0 to 5 °C; a cell sheet 0.2 C: the lower counts."""
        assert "at most 0.1 C" in self.cold(tmin_c=3.0).sentence


def test_a_range_typed_the_wrong_way_round_is_no_mere_caution():
    """15.0 to 14.6 V: 14.8 V may be above what the battery takes, and is not just "never full"."""
    bank = lfp_bank(3, maker_absorb_low_v=15.0, maker_absorb_high_v=14.6)
    check = sized(bank=bank, sources=(source(absorb_v=14.8),)).check("source:s/profile")
    assert check.verdict is Verdict.NOT_ENOUGH_DATA


@pytest.mark.parametrize(
    ("unit_v", "quantity", "in_series", "verdict"),
    [
        (12.8, 4, 1, Verdict.PASS),
        (6.4, 4, 2, Verdict.PASS),
        (13.5, 1, 1, Verdict.BLOCK),  # 12 V and a tenth more are 13.2 V
        (11.0, 1, 1, Verdict.BLOCK),  # 12 V less a twentieth are 11.4 V
    ],
)
def test_rows_of_batteries_make_the_systems_volts(unit_v, quantity, in_series, verdict):
    """The band round the nominal volts is common practice, no source; a row not full is refused before."""
    bank = lfp_bank(quantity, unit_nominal_v=unit_v, in_series=in_series)
    found = sizing.size_system(replace(golden(), bank=bank)).check("bank/series")
    assert found.verdict is verdict


@pytest.mark.parametrize("named", [("converter",), ("nothing here",), ("converter", "nothing here")])
def test_a_charger_kept_apart_from_itself_or_from_nothing_still_counts(named):
    """50 A of sun and 45 A of the converter run together, whatever a slip wrote under its interlock."""
    source = replace(golden().sources[0], excluded_with=named)
    found = sizing.size_system(replace(golden(), sources=(source,))).check("bank/charge_sum")
    assert found.value == pytest.approx(95.0)
