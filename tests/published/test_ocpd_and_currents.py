"""Fuses, PV currents, inverter and converter currents worked by hand from printed rules.

Each fixture row names its clause. The 1.1 factor of IEC 60364-7-712 is from memory.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizing import size_system
from sizing.array.strings import balance_a
from sizing.cable.currents import converter_minimum_a, dc_dc_input_a, inverter_input_a
from sizing.cable.overcurrent import distance_limit, round_up, string_fuse, string_fuse_methods
from sizing.cable.rulesets import StringFuseMethod
from sizing.core.inputs import BankInput, Chemistry, InverterInput, RuleSet
from sizing.core.judge import is_within
from tests.designs import P200, golden, placed, wired
from tests.published.reading import printed

INCH_M = 0.0254


@pytest.mark.parametrize("row", printed("string_fuse_cases"), ids=lambda row: row["case"])
def test_string_fuse_sums_come_out(row):
    found = string_fuse(
        int(row["np"]),
        float(row["isc_a"]),
        float(row["max_series_fuse_a"]),
        StringFuseMethod(row["method"]),
    )
    assert found.back_feed_a == pytest.approx(float(row["back_feed_a"]), abs=0.01)
    assert found.is_required is (row["is_required"] == "yes")
    assert found.min_rating_a == pytest.approx(float(row["min_rating_a"]), abs=0.01)
    if row["rating_a"]:
        assert found.rating_a == float(row["rating_a"])
        assert found.fits is True


def test_the_published_iec_case_keeps_below_2_4_isc():
    """IEC 62548: 1.5 Isc < In < 2.4 Isc; Isc 12.28 A gives 18.42 to 29.47 A."""
    assert string_fuse(4, 12.28, 20, StringFuseMethod.IEC_62548).max_rating_a == pytest.approx(
        29.472, abs=0.01
    )


def test_fifteen_amps_passes_only_one_of_three_standards():
    """Isc 10.04 A: minimum 15.69 A (NFPA 70), 15.06 A (IEC 62548), 13.81 A (IEC 60364-7-712)."""
    allows_15 = [found.method for found in string_fuse_methods(1, 10.04, 20) if found.min_rating_a <= 15]
    assert allows_15 == [StringFuseMethod.IEC_60364_7_712]


@pytest.mark.parametrize(
    ("strings", "isc_a", "controller_a", "design_a", "device_a"),
    [(3, 10.04, 37.65, 47.0625, 50), (2, 8.47, 21.175, 26.469, 30)],
)
def test_array_currents(strings, isc_a, controller_a, design_a, device_a):
    """NFPA 70 (2017) 690.8(A)(1)-(2) and 690.9(B): 1.25 per string, 1.25 again for the conductor."""
    kind = replace(P200, isc_a=isc_a, imp_a=0.95 * isc_a, pmp_w=P200.vmp_v * 0.95 * isc_a)
    design = replace(golden(), panels=placed(kind, strings), strings=wired(strings, 1))
    answer = size_system(design)
    home_run = next(row for row in answer.circuits if row.id == "C2")
    assert answer.check("controller:A/pv_isc").value == pytest.approx(controller_a, abs=0.01)
    assert home_run.design_a == pytest.approx(design_a, abs=0.01)
    assert answer.controllers[0].array_device_a == device_a


@pytest.mark.parametrize(("battery_v", "output_a"), [(12.0, 75.175), (14.4, 62.646)])
def test_what_a_controller_puts_out_is_a_power_balance(battery_v, output_a):
    """Three 310 W panels through 97 %: 930 W x 0.97 over the battery's volts, worked by hand."""
    assert balance_a(3 * 310.0, battery_v=battery_v, share_fraction=0.97) == pytest.approx(output_a, abs=0.01)


def test_controller_output_fuse():
    """NFPA 70 (2017) 690.8(B), 240.6: 50 A continuous needs 62.5 A, so 70 A."""
    assert round_up(50 * 1.25) == 70


@pytest.mark.parametrize("row", printed("inverter_cases"), ids=lambda row: row["case"])
def test_inverter_current(row):
    """The lowest voltage is put in by scaling the bank's nominal voltage; LFP works down to 11.5 per 12 V."""
    low_v = float(row["low_v"])
    inverter = InverterInput("test", float(row["power_w"]), efficiency_fraction=float(row["efficiency"]))
    bank = BankInput(Chemistry.LFP, 12.8, 100, 1)
    current = inverter_input_a(inverter, bank, 12.0 * low_v / 11.5)
    assert current == pytest.approx(float(row["current_a"]), abs=0.01)
    assert 1.25 * current == pytest.approx(float(row["design_a"]), abs=0.02)
    assert round_up(1.25 * current) == float(row["fuse_a"])


def test_lead_banks_work_down_to_1_75_volts_a_cell():
    """2000 W at 90 % from a 12 V lead bank at its 10.5 V end voltage: 211.64 A."""
    bank = BankInput(Chemistry.AGM, 12.0, 100, 2)
    assert inverter_input_a(
        InverterInput("test", 2000, efficiency_fraction=0.9), bank, 12.0
    ) == pytest.approx(211.64, abs=0.01)


def test_dc_dc_input_is_a_power_balance():
    """30 A at 14.2 V out of 12.0 V at 90 %: 39.4 A."""
    assert dc_dc_input_a(30, 14.2, 12.0) == pytest.approx(39.4, abs=0.05)


@pytest.mark.parametrize(("load_a", "rating_a"), [(62, 35.5), (20, 20), (15, 15), (40, 30)])
def test_converter_rating_of_a_recreational_vehicle(load_a, rating_a):
    """NFPA 70 (2017) 551.20(B): 100 % of 20 A, 50 % of the next 20 A, 25 % above; 62 A gives 35.5 A."""
    assert converter_minimum_a(load_a) == rating_a


@pytest.mark.parametrize("row", printed("fuse_position_cases"), ids=lambda r: f"{r['distance_in']} in")
def test_distance_to_the_source(row):
    limit = distance_limit(
        RuleSet.MARINE_105C,
        is_sheathed=row["is_sheathed"] == "yes",
        is_battery_post=row["is_battery_post"] == "yes",
    )
    assert is_within(float(row["distance_in"]) * INCH_M, limit.value) is (row["is_allowed"] == "yes")


@pytest.mark.parametrize(("is_sheathed", "limit_m"), [(False, 0.2), (True, 1.0)])
def test_metric_distance_to_the_battery(is_sheathed, limit_m):
    """AS/NZS 3001.2:2022 as given in a trade summary: 200 mm, or 1.0 m with the cable enclosed."""
    found = distance_limit(RuleSet.METRIC, is_sheathed=is_sheathed, is_battery_post=True)
    assert found.value == limit_m
