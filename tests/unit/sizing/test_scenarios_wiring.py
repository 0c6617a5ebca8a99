"""Whole wiring stories with numbers worked by hand from F13 to F17; tolerances: 0.1 V, 0.05 %, 0.1 A.

The volts, amps and percents are arithmetic on the stated cable (10 AWG 3.28, 8 AWG 2.06, 6 AWG 1.30,
4 AWG 0.815, 1/0 0.322, 2/0 0.256, 4/0 0.161 mΩ/m at 20 °C: 17.241 Ω·mm²/km over the AWG area) and on
33 CFR 183.425 table 5; drop limits are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing.circuits.rewiring import wire_options
from sizing.core.checks import Verdict
from sizing.core.inputs import CircuitInput, CircuitKind, ControllerInput, ControllerKind, OcpdInput
from tests.designs import P200, P400, lfp_bank, placed, wired
from tests.unit.sizing.wiring import dc_dc, home_run, judged, system


class TestTwoPanelsInParallel:
    """Two 200 W panels, 9.80 A and 20.4 V each, 6.1 m of home run."""

    @pytest.mark.parametrize(
        ("size", "percent", "verdict"), [("10", 3.84, Verdict.CAUTION), ("8", 2.41, Verdict.PASS)]
    )
    def test_thin_wire_loses_too_much(self, size, percent, verdict):
        _, checks = judged(system(home_run(size=size)))
        drop = checks["circuit:C2/drop"]
        assert drop.value * 100 == pytest.approx(percent, abs=0.05)
        assert drop.verdict is verdict

    def test_the_trade_index_says_the_same(self):
        """19.6 A × 20 ft / (20.4 V × 3 %) is 6.4: the published index carries 5 on 10 AWG and 8 on 8 AWG."""
        drops = {size: judged(system(home_run(size=size)))[1]["circuit:C2/drop"] for size in ("10", "8", "6")}
        assert [size for size, drop in drops.items() if drop.verdict is Verdict.PASS] == ["8", "6"]

    def test_in_series_the_thin_wire_is_plenty(self):
        rows, checks = judged(system(home_run(size="10"), strings=wired(2, 2)))
        assert rows["C2"].drop_fraction * 100 == pytest.approx(0.96, abs=0.05)
        assert checks["circuit:C2/drop"].verdict is Verdict.PASS

    def test_the_array_device_is_rounded_up(self):
        rows, _ = judged(system(home_run(size="10", on_roof_in_sun=True)))
        assert rows["C2"].design_a == pytest.approx(31.9, abs=0.1)
        assert rows["C2"].fuse_a == 35
        assert rows["C2"].ampacity_a == pytest.approx(42)


class TestThreeInParallel:
    """Three 400 W panels in parallel, 13.8 A each: the joined current."""

    @pytest.mark.parametrize(("size", "verdict"), [("8", Verdict.BLOCK), ("6", Verdict.PASS)])
    def test_bundled_cable_against_the_device(self, size, verdict):
        run = home_run(size=size, bundle_count=4)
        rows, checks = judged(system(run, panels=placed(P400, 3), strings=wired(3, 1)))
        assert rows["C2"].fuse_a == 70
        assert checks["circuit:C2/ocpd_cable"].verdict is verdict

    def test_string_fuse_at_the_combiner_keeps_to_the_panel(self):
        strings = replace(home_run(2.0), id="C1", kind=CircuitKind.STRINGS_TO_COMBINER)
        three = {"panels": placed(P400, 3), "strings": wired(3, 1)}
        rows, checks = judged(system(strings, **three))
        assert (rows["C1"].fuse_a, checks["circuit:C1/series_fuse"].verdict) == (25, Verdict.PASS)
        _, checks = judged(system(replace(strings, ocpd=OcpdInput(30, "gPV")), **three))
        assert checks["circuit:C1/series_fuse"].verdict is Verdict.BLOCK

    def test_no_fuse_there_is_no_protection(self):
        strings = replace(home_run(2.0, has_no_ocpd=True), id="C1", kind=CircuitKind.STRINGS_TO_COMBINER)
        rows, checks = judged(system(strings, panels=placed(P400, 3), strings=wired(3, 1)))
        assert checks["circuit:C1/protection"].verdict is Verdict.BLOCK
        assert "NO PROTECTION" in rows["C1"].note


class TestInverterCable:
    """3 kW at 12 V: 3000/(0.88 × 11.5) = 296.4 A, 1.5 m of cable."""

    def feed(self, size, **more):
        ocpd = OcpdInput(400.0, "class T", interrupting_a=20_000.0)
        return CircuitInput("C6", CircuitKind.BUS_TO_INVERTER, 1.5, size=size, ocpd=replace(ocpd, **more))

    def test_thick_cable_passes(self):
        rows, checks = judged(system(self.feed("4/0"), bank=lfp_bank(3)))
        assert rows["C6"].continuous_a == pytest.approx(296.4, abs=0.1)
        assert rows["C6"].design_a == pytest.approx(370.6, abs=0.1)
        assert rows["C6"].drop_v == pytest.approx(0.143, abs=0.001)
        assert rows["C6"].drop_fraction * 100 == pytest.approx(1.19, abs=0.05)
        assert rows["C6"].verdict is Verdict.PASS
        assert checks["circuit:C6/interrupting"].verdict is Verdict.PASS

    def test_the_engine_would_choose_the_same(self):
        rows, _ = judged(system(CircuitInput("C6", CircuitKind.BUS_TO_INVERTER, 1.5)))
        assert (rows["C6"].size, rows["C6"].fuse_a) == ("4/0", 400)

    def test_thin_cable_blocks_though_its_drop_passes(self):
        rows, checks = judged(system(self.feed("2/0")))
        assert checks["circuit:C6/ocpd_cable"].verdict is Verdict.BLOCK
        assert checks["circuit:C6/drop"].verdict is Verdict.PASS
        assert rows["C6"].drop_fraction * 100 == pytest.approx(1.9, abs=0.05)

    def test_a_strip_fuse_cannot_break_a_lithium_bank(self):
        _, checks = judged(system(self.feed("4/0", family="strip", interrupting_a=6000.0)))
        check = checks["circuit:C6/interrupting"]
        assert check.verdict is Verdict.BLOCK
        # 400 Ah: 14 V over 0.5625 to 1.4 mΩ is 10 to 24.9 kA, as no length up to the device is given
        assert "10 to 24.89 kA" in check.substituted

    @pytest.mark.parametrize(
        ("distance_m", "is_sheathed", "verdict"),
        [
            (0.3, False, Verdict.CAUTION),
            (0.458, False, Verdict.BLOCK),
            (0.6, True, Verdict.PASS),
            (0.178, False, Verdict.PASS),
            (0.179, False, Verdict.CAUTION),
        ],
    )
    def test_main_fuse_stays_near_the_post(self, distance_m, is_sheathed, verdict):
        """7 in by ABYC E-11; a trailer's and an inverter's manual print 18 in of the battery."""
        ocpd = OcpdInput(
            400.0, interrupting_a=20_000.0, distance_to_source_m=distance_m, is_sheathed=is_sheathed
        )
        main = CircuitInput("C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.3, ocpd=ocpd)
        _, checks = judged(system(main))
        assert checks["circuit:C4/ocpd_distance"].verdict is verdict

    def test_a_main_fuse_without_a_distance_is_not_a_pass(self):
        main = CircuitInput("C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.3)
        _, checks = judged(system(main))
        assert checks["circuit:C4/ocpd_distance"].verdict is Verdict.NOT_ENOUGH_DATA


class TestTowPlug:
    """A trailer 13 m behind a smart alternator at 13.6 V; the converter stops below 12.0 V."""

    def feed(self, size, fuse_a=None):
        ocpd = None if fuse_a is None else OcpdInput(fuse_a, at_both_ends=True)
        return CircuitInput(
            "C8", CircuitKind.START_BATTERY_TO_DC_DC, 13.0, serves="source:dc", size=size, ocpd=ocpd
        )

    def judge(self, output_a, circuit):
        return judged(system(circuit, sources=(dc_dc(output_a),)))

    def test_a_large_unit_blows_the_plugs_fuse(self):
        rows, checks = self.judge(30, self.feed("10", 30))
        assert rows["C8"].continuous_a == pytest.approx(39.4, abs=0.1)
        assert checks["circuit:C8/ocpd_rating"].verdict is Verdict.BLOCK

    def test_a_small_unit_cuts_in_and_out(self):
        rows, checks = self.judge(18, self.feed("10", 30))
        assert rows["C8"].continuous_a == pytest.approx(23.7, abs=0.1)
        assert rows["C8"].drop_v == pytest.approx(2.02, abs=0.01)
        assert checks["circuit:C8/ocpd_rating"].verdict is Verdict.PASS
        arrival = checks["circuit:C8/arrival"]
        assert arrival.value == pytest.approx(11.6, abs=0.1)
        assert arrival.verdict is Verdict.BLOCK
        assert "cut in and out" in arrival.sentence
        assert checks["circuit:C8/drop"].verdict is Verdict.BLOCK

    def test_a_dedicated_pair_is_a_caution(self):
        rows, checks = self.judge(30, self.feed("4"))
        assert rows["C8"].drop_v == pytest.approx(0.84, abs=0.01)
        assert rows["C8"].drop_fraction * 100 == pytest.approx(7.0, abs=0.05)
        assert checks["circuit:C8/arrival"].value == pytest.approx(12.76, abs=0.01)
        assert checks["circuit:C8/drop"].verdict is Verdict.CAUTION
        assert rows["C8"].fuse_a == 50
        assert checks["circuit:C8/both_ends"].verdict is Verdict.PASS

    def test_thicker_passes(self):
        rows, checks = self.judge(30, self.feed("1/0"))
        assert rows["C8"].drop_v == pytest.approx(0.33, abs=0.01)
        assert rows["C8"].drop_fraction * 100 == pytest.approx(2.8, abs=0.05)
        assert checks["circuit:C8/drop"].verdict is Verdict.PASS

    def test_a_fuse_at_one_end_only_blocks(self):
        one_end = replace(self.feed("4"), ocpd=OcpdInput(50))
        _, checks = self.judge(30, one_end)
        assert checks["circuit:C8/both_ends"].verdict is Verdict.BLOCK

    def test_a_low_arrival_turns_the_caution_into_a_block(self):
        low = dc_dc(30, input_v=13.2)
        _, checks = judged(system(self.feed("4"), sources=(low,)))
        assert checks["circuit:C8/drop"].verdict is Verdict.BLOCK


class TestScheduleAsItPrints:
    """Rows worked by hand: a 30 A controller, a 40 A converter from the start battery."""

    def test_controller_output(self):
        row = CircuitInput("C3", CircuitKind.CONTROLLER_TO_BUS, 1.2, serves="controller:A", size="8")
        rows, _ = judged(system(row))
        assert (rows["C3"].fuse_a, rows["C3"].design_a) == (40, 37.5)
        assert rows["C3"].drop_v == pytest.approx(0.15, abs=0.005)
        assert rows["C3"].drop_fraction * 100 == pytest.approx(1.0, abs=0.06)

    def test_converter_input(self):
        row = CircuitInput("C8", CircuitKind.START_BATTERY_TO_DC_DC, 6.5, serves="source:dc", size="4")
        rows, checks = judged(system(row, sources=(dc_dc(40),)))
        assert rows["C8"].continuous_a == pytest.approx(52.6, abs=0.1)
        assert rows["C8"].fuse_a == 70
        assert rows["C8"].drop_fraction * 100 == pytest.approx(4.6, abs=0.05)
        assert checks["circuit:C8/arrival"].value == pytest.approx(13.0, abs=0.1)
        assert checks["circuit:C8/drop"].verdict is Verdict.CAUTION


class TestTheRunWasLonger:
    """Quoted 6.1 m of 8 AWG; the path is 10.4 m and 10 AWG was pulled."""

    @pytest.fixture
    def options(self):
        ocpd = OcpdInput(35.0, voltage_rating_v=150.0)
        quoted = system(home_run(size="8", ocpd=ocpd))
        return wire_options(quoted, "C2", run_len_m=10.4, size="10")

    def test_as_entered(self, options):
        first = options[0]
        assert first.kind == "as_entered"
        assert first.drop_v == pytest.approx(1.336, abs=0.001)
        assert first.drop_fraction * 100 == pytest.approx(6.55, abs=0.05)
        assert first.verdict is Verdict.CAUTION

    def test_thicker_until_it_passes(self, options):
        sized = [each for each in options if each.kind == "resize"]
        assert [each.size for each in sized] == ["8", "6"]
        assert [each.drop_fraction * 100 for each in sized] == pytest.approx([4.12, 2.59], abs=0.05)
        assert [each.verdict for each in sized] == [Verdict.CAUTION, Verdict.PASS]
        assert sized[1].extra_copper_kg > sized[0].extra_copper_kg > 0

    def test_strung_in_series(self, options):
        (series,) = [each for each in options if each.kind == "restring"]
        assert (series.ns, series.np) == (2, 1)
        assert series.drop_fraction * 100 == pytest.approx(1.64, abs=0.05)
        assert series.voc_cold_v == pytest.approx(54.7, abs=0.1)
        assert series.verdict is Verdict.PASS
        assert "controller:A/cold_voc" in series.reopens


def test_a_controller_sees_its_worst_leg_of_each_kind():
    """String legs of 2 and 4 m and a home run: the hot working volts lose the longer leg and the run."""
    legs = tuple(
        CircuitInput(f"C1.{n}", CircuitKind.STRINGS_TO_COMBINER, 2.0 * n, serves=f"string:S{n}", size="10")
        for n in (1, 2)
    )
    result = sizing.size_system(system(*legs, home_run(size="8")))
    lost = {row.id: row.drop_v for row in result.circuits}
    check = result.check("controller:A/hot_run")
    hot_v = result.controllers[0].vmp_hot_v
    assert check.value == pytest.approx(hot_v - lost["C1.2"] - lost["C2"])


def test_a_leg_of_unknown_length_counts_as_none():
    unknown = CircuitInput("C1", CircuitKind.STRINGS_TO_COMBINER, None, serves="string:S1", size="10")
    result = sizing.size_system(system(unknown, home_run(size="8")))
    lost_v = {row.id: row.drop_v for row in result.circuits}["C2"]
    hot_v = result.controllers[0].vmp_hot_v
    assert result.check("controller:A/hot_run").value == pytest.approx(hot_v - lost_v)


class TestLawsOfWireSums:
    """F15 and F14 by hand: halves and doubles, and a fuse that a bundle does not allow."""

    def test_twice_the_strings_is_twice_the_amps(self):
        one, _ = judged(system(home_run(size="8"), panels=placed(P400, 2)[:1], strings=wired(1, 1)))
        two, _ = judged(system(home_run(size="8"), panels=placed(P400, 2), strings=wired(2, 1)))
        assert two["C2"].design_a == pytest.approx(2 * one["C2"].design_a)
        assert two["C2"].drop_v == pytest.approx(2 * one["C2"].drop_v)

    def test_twice_the_panels_in_series_is_half_the_percent(self):
        one, _ = judged(system(home_run(size="8"), panels=placed(P400, 2)[:1], strings=wired(1, 1)))
        two, _ = judged(system(home_run(size="8"), panels=placed(P400, 2), strings=wired(2, 2)))
        assert two["C2"].drop_v == pytest.approx(one["C2"].drop_v)
        assert two["C2"].drop_fraction == pytest.approx(one["C2"].drop_fraction / 2)

    def test_warm_copper(self):
        cold, _ = judged(system(home_run(size="8")))
        warm, _ = judged(system(home_run(size="8", conductor_temp_c=75.0)))
        assert warm["C2"].drop_v == pytest.approx(1.2165 * cold["C2"].drop_v, rel=1e-3)

    def test_sixty_amps_on_a_bundled_ten_gauge_blocks_even_if_the_drop_passes(self):
        run = home_run(1.0, size="10", bundle_count=3, ocpd=OcpdInput(60))
        rows, checks = judged(system(run))
        assert rows["C2"].ampacity_a == pytest.approx(42)
        assert checks["circuit:C2/ocpd_cable"].verdict is Verdict.BLOCK
        assert checks["circuit:C2/drop"].verdict is Verdict.PASS

    def test_third_panel_in_straight_parallel_is_warned_about(self):
        """Common practice, no source: 9 to 10 A panels add up to 20, 30, 40 A on a 12 to 10 AWG run."""
        amps = []
        for count in (2, 3, 4):
            run = home_run(9.0, size="10", on_roof_in_sun=True)
            controllers = (ControllerInput("A", "big", ControllerKind.MPPT, 100, 60),)
            rows, _ = judged(
                system(run, panels=placed(P200, count), strings=wired(count, 1), controllers=controllers,
                       bank=lfp_bank(2))
            )  # fmt: skip
            amps.append(rows["C2"].continuous_a / 1.25)
            if count >= 3:
                assert rows["C2"].verdict is not Verdict.PASS
        assert amps == pytest.approx([20, 30, 40], abs=1.0)
