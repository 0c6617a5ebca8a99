"""A cold bank outside, a big inverter, a charge wire that cannot: values worked by hand (F6, F16, F28)."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import BankInput, ChargeSourceInput, Chemistry, InverterInput, SourceKind, Verdict
from tests.designs import controller, golden, lfp_bank


class TestColdBankOutside:
    """Four lithium batteries on a trailer tongue, -12 °C in winter."""

    def sized(self, **bank):
        dc_dc = ChargeSourceInput("dcdc", SourceKind.DC_DC, "DC-DC", 30.0, alternator_rating_a=180.0)
        converter = ChargeSourceInput(
            "old", SourceKind.CONVERTER, "old converter", 45.0, absorb_v=14.4, float_v=13.6, equalise_on=True
        )
        outside = replace(lfp_bank(4), is_inside=False, tmin_c=-12.0)
        return sizing.size_system(
            replace(
                golden(),
                bank=replace(outside, **bank),
                controllers=(replace(controller(), low_t_stop_c=5.0),),
                sources=(dc_dc, converter),
                circuits=(),
            )
        )

    def test_the_controller_stops_in_time(self):
        assert self.sized().check("controller:A/cold_charge").verdict is Verdict.PASS

    def test_chargers_without_a_stop_block(self):
        assert self.sized().check("source:dcdc/cold_charge").verdict is Verdict.BLOCK
        assert self.sized().check("source:old/cold_charge").verdict is Verdict.BLOCK

    def test_desulphate_pulses_block_on_lithium(self):
        check = self.sized().check("source:old/equalise")
        assert check.verdict is Verdict.BLOCK
        assert "LFP" in check.sentence

    def test_a_heated_pack_takes_hours_before_it_charges(self):
        heated = self.sized(is_heated=True, heater_w=100.0)
        figures = {figure.key: figure.value for figure in heated.figures}
        assert figures["bank/warm_up"] == pytest.approx(360, abs=10)
        assert figures["bank/warm_up_hours"] == pytest.approx(3.6, abs=0.05)
        check = heated.check("source:dcdc/cold_charge")
        assert check.verdict is Verdict.CAUTION  # one heater failure charges frozen cells
        assert "If it fails" in check.sentence

    def test_a_heater_of_unknown_power_does_not_help(self):
        assert self.sized(is_heated=True).check("source:dcdc/cold_charge").verdict is Verdict.BLOCK

    def test_a_stop_just_above_freezing_is_a_caution(self):
        design = golden()
        low = replace(design, controllers=(replace(controller(), low_t_stop_c=1.0),))
        assert sizing.size_system(low).check("controller:A/cold_charge").verdict is Verdict.CAUTION

    def test_a_stop_that_is_too_low_is_not_said_to_be_none(self):
        """A heated pack behind a stop at -10 °C: the heater alone keeps lithium from charging frozen."""
        design = replace(golden(), controllers=(replace(controller(), low_t_stop_c=-10.0),))
        design = replace(design, bank=replace(design.bank, is_heated=True, heater_w=60.0))
        check = sizing.size_system(design).check("controller:A/cold_charge")
        assert check.verdict is Verdict.CAUTION
        assert "a stop at ‹-10 °C|14 °F›, too low to help" in check.sentence
        assert "no low-temperature cutoff" not in check.sentence

    def test_a_stop_below_freezing_blocks(self):
        design = golden()
        low = replace(design, controllers=(replace(controller(), low_t_stop_c=-2.0),))
        assert sizing.size_system(low).check("controller:A/cold_charge").verdict is Verdict.BLOCK

    @pytest.mark.parametrize("stop_c", [None, 5.0])
    @pytest.mark.parametrize("heater_w", [0.0, 60.0])
    def test_a_stop_for_cold_does_nothing_for_cells_that_are_too_hot(self, stop_c, heater_w):
        """Lithium is charged at 0 to 45 °C (Battery University BU-410); at 48 °C no stop at 5 °C opens."""
        design = replace(golden(), controllers=(replace(controller(), low_t_stop_c=stop_c),))
        hot = replace(design.bank, tmin_c=48.0, is_heated=heater_w > 0, heater_w=heater_w)
        check = sizing.size_system(replace(design, bank=hot)).check("controller:A/cold_charge")
        assert (check.verdict, check.value, check.limit) == (Verdict.BLOCK, 48.0, 45.0)
        assert "too hot" in check.sentence
        assert "stop" not in check.sentence
        assert "cold" not in check.title

    def test_at_the_highest_charging_temperature_cells_may_still_be_charged(self):
        warm = replace(golden(), bank=replace(golden().bank, tmin_c=45.0))
        assert sizing.size_system(warm).check("controller:A/cold_charge").verdict is Verdict.PASS

    def test_lead_is_charged_up_to_50_degrees(self):
        """BU-410, table 1: lead is charged at -20 to 50 °C."""
        for cell_c, verdict in ((48.0, Verdict.PASS), (51.0, Verdict.BLOCK)):
            bank = BankInput(Chemistry.FLOODED, 12.0, 100.0, 2, tmin_c=cell_c)
            found = sizing.size_system(replace(golden(), bank=bank)).check("controller:A/cold_charge")
            assert found.verdict is verdict

    def test_unknown_temperatures_are_not_enough_data(self):
        design = replace(golden(), tmin_travel_c=None, tmin_storage_c=None)
        check = sizing.size_system(design).check("controller:A/cold_charge")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA


class TestBigInverter:
    def sized(self, batteries, surge_w=None):
        design = golden()
        return sizing.size_system(
            replace(
                design,
                bank=lfp_bank(batteries),
                inverter=InverterInput("inverter 3 kW", 3000.0, surge_w=surge_w),
                circuits=(),
            )
        )

    def test_four_batteries_carry_it(self):
        check = self.sized(4).check("bank/discharge")
        assert check.value == pytest.approx(296.4, abs=0.1)
        assert check.limit == pytest.approx(400)
        assert check.verdict is Verdict.PASS

    def test_two_batteries_do_not(self):
        check = self.sized(2).check("bank/discharge")
        assert check.limit == pytest.approx(200)
        assert check.verdict is Verdict.BLOCK

    def test_the_surge_falls_on_each_battery(self):
        check = self.sized(4, surge_w=6000.0).check("bank/surge")
        assert check.value == pytest.approx(148, abs=0.5)
        assert check.limit == pytest.approx(200)
        assert check.verdict is Verdict.PASS

    def test_a_surge_without_a_peak_rating_is_not_enough_data(self):
        design = golden()
        bank = replace(lfp_bank(4), max_peak_discharge_a=None)
        inverter = InverterInput("inverter 3 kW", 3000.0, surge_w=6000.0)
        check = sizing.size_system(replace(design, bank=bank, inverter=inverter)).check("bank/surge")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "148 A" in check.title


class TestEngineCharging:
    def test_credit_is_the_unit_rating_never_the_wire_fuse(self):
        unit = ChargeSourceInput("dcdc", SourceKind.DC_DC, "DC-DC", 30.0, driving_hours_per_day=2.0)
        figures = {
            f.key: f.value
            for f in sizing.size_system(replace(golden(), sources=(unit,), circuits=())).figures
        }
        assert figures["source:dcdc/engine"] == pytest.approx(30 * 13.6 * 2 * 0.95)

    def test_half_an_hour_at_forty_amps(self):
        unit = ChargeSourceInput("dcdc", SourceKind.DC_DC, "DC-DC", 40.0, driving_hours_per_day=0.5)
        figures = {
            f.key: f.value
            for f in sizing.size_system(replace(golden(), sources=(unit,), circuits=())).figures
        }
        assert figures["source:dcdc/engine"] == pytest.approx(258, abs=1)

    def test_a_stock_charge_wire_is_credited_five_amps(self):
        wire = ChargeSourceInput("tow", SourceKind.TOW_CHARGE_WIRE, "tow", 30.0, driving_hours_per_day=1.0)
        figures = {
            f.key: f.value
            for f in sizing.size_system(replace(golden(), sources=(wire,), circuits=())).figures
        }
        assert figures["source:tow/engine"] == pytest.approx(5 * 13.6 * 0.95)

    @pytest.mark.parametrize(
        ("output_a", "verdict"),
        [(60.0, Verdict.PASS), (75.0, Verdict.CAUTION), (80.0, Verdict.CAUTION), (160.0, Verdict.BLOCK)],
    )
    def test_at_most_half_the_alternator(self, output_a, verdict):
        unit = ChargeSourceInput("dcdc", SourceKind.DC_DC, "DC-DC", output_a, alternator_rating_a=150.0)
        result = sizing.size_system(replace(golden(), sources=(unit,), circuits=()))
        assert result.check("source:dcdc/alternator").verdict is verdict

    def test_an_unknown_alternator_is_not_enough_data(self):
        unit = ChargeSourceInput("dcdc", SourceKind.DC_DC, "DC-DC", 40.0)
        result = sizing.size_system(replace(golden(), sources=(unit,), circuits=()))
        assert result.check("source:dcdc/alternator").verdict is Verdict.NOT_ENOUGH_DATA
