"""Strings on real roofs: two easy panels, a freezing sunrise, a hot noon, three in parallel, too many.

All data are invented; the expected values were worked by hand from formulas F9 to F13 (DEVELOPERS.md).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    PlugInput,
    SourceKind,
    SystemInput,
    Verdict,
)
from tests.designs import P100, P200, P400, controller, golden, lfp_bank, placed, wired


def array(kind, count, ns, unit, **more) -> SystemInput:
    """Return the reference design with another array on it and nothing else changed."""
    base = replace(
        golden(),
        panels=placed(kind, count),
        strings=wired(count, ns),
        controllers=(unit,),
        circuits=(),
        loads=(),
        legs=(),
        sources=(),
        inverter=None,
        tmin_travel_c=5.0,
        tmin_storage_c=-20.0,
    )
    return replace(base, **more)


def home_run(run_len_m: float, size: str | None, **more) -> CircuitInput:
    return CircuitInput(
        "C2", CircuitKind.HOME_RUN, run_len_m, serves="controller:A", size=size, on_roof_in_sun=True, **more
    )


class TestTwoPanelTrailer:
    unit = controller(100, 30)

    def sized(self, ns, size):
        return sizing.size_system(array(P200, 2, ns, self.unit, circuits=(home_run(6.1, size),)))

    def test_in_parallel_the_thin_wire_loses_too_much(self):
        result = self.sized(1, "10")
        assert result.controllers[0].imp_a == pytest.approx(19.6, abs=0.1)
        assert result.check("circuit:C2/drop").value == pytest.approx(0.0384, abs=0.0005)
        assert result.check("circuit:C2/drop").verdict is Verdict.CAUTION
        assert result.circuits[0].drop_v == pytest.approx(0.78, abs=0.1)

    def test_in_parallel_the_next_size_passes(self):
        check = self.sized(1, "8").check("circuit:C2/drop")
        assert check.value == pytest.approx(0.0241, abs=0.0005)
        assert check.verdict is Verdict.PASS

    def test_in_series_the_thin_wire_is_plenty(self):
        result = self.sized(2, "10")
        assert result.controllers[0].imp_a == pytest.approx(9.8, abs=0.1)
        assert result.check("circuit:C2/drop").value == pytest.approx(0.0096, abs=0.0005)
        assert result.check("circuit:C2/drop").verdict is Verdict.PASS
        assert result.controllers[0].voc_cold_v == pytest.approx(54.7, abs=0.1)
        assert result.check("controller:A/cold_voc").limit == pytest.approx(97)
        assert result.check("controller:A/cold_voc").verdict is Verdict.PASS

    def test_two_parallel_panels_need_no_fuses_but_an_array_device(self):
        result = self.sized(1, "10")
        assert result.controllers[0].back_feed_a == pytest.approx(12.75, abs=0.1)
        assert result.controllers[0].needs_string_fuse is False
        assert result.controllers[0].array_device_a == 35
        assert result.check("circuit:C2/ampacity").value == pytest.approx(42, abs=0.1)
        assert result.check("circuit:C2/ampacity").verdict is Verdict.PASS


class TestFreezingSunrise:
    unit = controller(100, 50)

    def test_storage_rules_over_travel(self):
        check = sizing.size_system(array(P200, 4, 4, self.unit)).check("controller:A/cold_voc")
        assert check.value == pytest.approx(109.4, abs=0.1)
        assert check.verdict is Verdict.BLOCK
        assert "storage" in check.sentence
        assert "104 V at ‹0 °C|32 °F›" in check.sentence

    def test_three_in_series_are_the_most(self):
        result = sizing.size_system(array(P200, 4, 4, self.unit))
        assert result.controllers[0].voc_stc_v == pytest.approx(97.2, abs=0.1)
        assert result.controllers[0].ns_max == 3
        cold = sizing.cold_voltages(P200, -20.0)[0]
        assert cold.voc_v == pytest.approx(27.36, abs=0.01)

    def test_without_a_coefficient_the_code_table_rules(self):
        bare = replace(P200, beta_voc_fraction_per_c=None)
        check = sizing.size_system(array(bare, 4, 4, self.unit)).check("controller:A/cold_voc")
        assert check.value == pytest.approx(114.7, abs=0.1)
        assert check.verdict is Verdict.BLOCK
        assert "table method" in check.title

    def test_two_by_two_is_the_way_out(self):
        result = sizing.size_system(array(P200, 4, 2, self.unit))
        assert result.controllers[0].voc_cold_v == pytest.approx(54.7, abs=0.1)
        assert result.check("controller:A/cold_voc").verdict is Verdict.PASS

    def test_an_unknown_storage_temperature_never_passes(self):
        design = array(P200, 4, 2, self.unit, tmin_storage_c=None)
        check = sizing.size_system(design).check("controller:A/cold_voc")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "storage" in check.sentence

    def test_an_unknown_storage_temperature_still_blocks_what_the_route_blocks(self):
        design = array(P200, 4, 4, self.unit, tmin_storage_c=None)
        assert sizing.size_system(design).check("controller:A/cold_voc").verdict is Verdict.BLOCK

    def test_no_temperature_at_all_is_not_enough_data(self):
        design = array(P200, 4, 4, self.unit, tmin_storage_c=None, tmin_travel_c=None)
        check = sizing.size_system(design).check("controller:A/cold_voc")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert check.value is None


class TestEdgesOfTheColdLimit:
    def test_the_last_three_percent_are_a_caution(self):
        """2 × 27.36 V = 54.7 V on a 55 V limit."""
        check = sizing.size_system(array(P200, 2, 2, controller(55, 30))).check("controller:A/cold_voc")
        assert check.verdict is Verdict.CAUTION
        assert "inside the last 3%" in check.sentence

    def test_mixed_strings_compare_only_methods_all_panels_answer(self):
        bare = replace(P200, beta_voc_fraction_per_c=None)
        panels = (placed(P200, 1)[0], replace(placed(bare, 1)[0], id="q"))
        strings = (sizing.StringInput("S1", "A", ("p1", "q")),)
        design = replace(array(P200, 2, 2, controller()), panels=panels, strings=strings)
        methods = sizing.size_system(design).controllers[0].voc_cold_by_method
        assert [name for name, _ in methods] == ["code table"]

    def test_without_a_bank_the_hot_side_is_unknown(self):
        unit = replace(controller(), absorb_v=None)
        result = sizing.size_system(array(P200, 2, 2, unit, bank=None))
        assert result.check("controller:A/hot_run").verdict is Verdict.NOT_ENOUGH_DATA
        assert result.check("controller:A/clip").verdict is Verdict.NOT_ENOUGH_DATA

    def test_without_a_power_coefficient_the_hot_side_is_unknown(self):
        bare = replace(P200, gamma_pmp_fraction_per_c=None)
        result = sizing.size_system(array(bare, 2, 2, controller()))
        assert result.check("controller:A/hot_run").verdict is Verdict.NOT_ENOUGH_DATA
        assert result.controllers[0].ns_min is None

    def test_a_temperature_that_is_no_number_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match="tmin_c"):
            sizing.code_table_factor(float("nan"))

    def test_above_the_makers_array_limit_blocks(self):
        unit = controller(pv_power_limit_w=300.0)
        check = sizing.size_system(array(P200, 2, 2, unit)).check("controller:A/array_power")
        assert check.verdict is Verdict.BLOCK

    def test_an_unknown_check_is_a_key_error(self):
        with pytest.raises(KeyError):
            sizing.size_system(array(P200, 2, 2, controller())).check("nonsense")


class TestTooLowAtNoon:
    """One 100 W panel on a 12 V AGM bank; the home run loses 2.5 %."""

    agm = BankInput(Chemistry.AGM, 12.0, 100.0, 2)

    def sized(self, ns, run_len_m):
        unit = replace(controller(100, 20), absorb_v=None)
        circuits = (home_run(run_len_m, "10"),)
        return sizing.size_system(array(P100, ns, ns, unit, bank=self.agm, circuits=circuits))

    def test_one_panel_stalls(self):
        # 2 × L × 5.38 A × 3.277 mΩ/m = 0.39 V (2.5 % of 15.50 V) for L = 11.0 m
        result = self.sized(1, 11.0)
        start, run = result.check("controller:A/hot_start"), result.check("controller:A/hot_run")
        assert start.value == pytest.approx(19.39, abs=0.1)
        assert start.limit == pytest.approx(19.4)
        assert start.verdict is Verdict.BLOCK
        assert result.controllers[0].vmp_hot_v == pytest.approx(15.50, abs=0.1)
        assert run.value == pytest.approx(15.12, abs=0.1)
        assert run.limit == pytest.approx(15.4)
        assert run.verdict is Verdict.BLOCK
        assert "stall in summer" in run.sentence

    def test_two_in_series_run(self):
        result = self.sized(2, 11.0)
        assert result.controllers[0].vmp_hot_v == pytest.approx(31.0, abs=0.1)
        assert result.check("controller:A/hot_run").verdict is Verdict.PASS
        assert result.check("controller:A/hot_start").verdict is Verdict.PASS

    def test_glued_panels_run_hotter(self):
        rigid = self.sized(2, 11.0).controllers[0].vmp_hot_v
        unit = replace(controller(100, 20), absorb_v=None)
        glued = sizing.size_system(array(P100, 2, 2, unit, bank=self.agm, glued_panels=True))
        assert glued.controllers[0].vmp_hot_v < rigid

    def test_without_a_home_run_three_percent_is_assumed(self):
        unit = replace(controller(100, 20), absorb_v=None)
        run = sizing.size_system(array(P100, 1, 1, unit, bank=self.agm)).check("controller:A/hot_run")
        assert run.value == pytest.approx(15.503 * 0.97, abs=0.01)
        assert "assumed" in run.sentence


class TestThreeInParallel:
    unit = controller(100, 60, pv_isc_limit_a=60.0)

    def sized(self, size="6", fuse_a=None, bundle=5):
        strings = tuple(replace(string, fuse_a=fuse_a) for string in wired(3, 1))
        circuit = replace(home_run(6.0, size), bundle_count=bundle, on_roof_in_sun=False)
        design = array(P400, 3, 1, self.unit, circuits=(circuit,), plugs=(PlugInput("A", 30.0),))
        return sizing.size_system(replace(design, strings=strings))

    def test_string_fuses_are_required(self):
        result = self.sized()
        assert result.controllers[0].back_feed_a == pytest.approx(34.5, abs=0.1)
        assert result.controllers[0].needs_string_fuse is True
        assert result.controllers[0].string_fuse_a == 25
        assert result.check("string:S1/fuse").verdict is Verdict.PASS

    def test_branch_plugs_block(self):
        check = next(check for check in self.sized().checks if "plug" in check.key)
        assert check.value == pytest.approx(51.75, abs=0.1)
        assert check.limit == pytest.approx(30)
        assert check.verdict is Verdict.BLOCK
        assert "combiner" in check.sentence

    def test_combined_device_and_bundled_cable(self):
        assert self.sized().controllers[0].array_device_a == 70
        assert self.sized("8").check("circuit:C2/ampacity").value == pytest.approx(48, abs=0.1)
        assert self.sized("8").check("circuit:C2/ampacity").verdict is Verdict.BLOCK
        assert self.sized("6").check("circuit:C2/ampacity").value == pytest.approx(72, abs=0.1)
        assert self.sized("6").check("circuit:C2/ampacity").verdict is Verdict.PASS

    def test_a_larger_string_fuse_than_the_panel_allows_blocks(self):
        check = self.sized(fuse_a=30.0).check("string:S1/fuse")
        assert check.verdict is Verdict.BLOCK
        assert "25 A" in check.sentence


class TestChosenStringFuse:
    def fused(self, **changes):
        strings = tuple(replace(string, **changes) for string in wired(3, 1))
        unit = controller(100, 60, pv_isc_limit_a=60.0)
        return sizing.size_system(replace(array(P400, 3, 1, unit), strings=strings)).check("string:S1/fuse")

    def test_too_small_a_fuse_blows_in_bright_light(self):
        check = self.fused(fuse_a=20.0)
        assert check.verdict is Verdict.BLOCK
        assert "21.56 A" in check.sentence

    def test_the_fuse_must_stand_the_cold_voltage(self):
        check = self.fused(fuse_a=25.0, fuse_voltage_rating_v=32.0)
        assert check.verdict is Verdict.BLOCK
        assert check.unit == "V"
        assert self.fused(fuse_a=25.0, fuse_voltage_rating_v=600.0).verdict is Verdict.PASS

    def test_an_unknown_panel_limit_is_not_enough_data(self):
        bare = replace(P400, max_series_fuse_a=None)
        unit = controller(100, 60, pv_isc_limit_a=60.0)
        result = sizing.size_system(array(bare, 3, 1, unit))
        assert result.check("string:S1/fuse").verdict is Verdict.NOT_ENOUGH_DATA
        assert result.controllers[0].needs_string_fuse is None


class TestOverPanelled:
    def sized(self, **changes):
        dc_dc = ChargeSourceInput(
            "dcdc",
            SourceKind.DC_DC,
            "DC-DC",
            40.0,
            absorb_v=14.4,
            low_t_stop_c=5.0,
            alternator_rating_a=150.0,
        )
        shore = ChargeSourceInput(
            "shore", SourceKind.CONVERTER, "shore charger", 60.0, absorb_v=14.4, low_t_stop_c=5.0
        )
        design = array(
            P400,
            3,
            3,
            replace(controller(150, 60), absorb_v=None),
            bank=lfp_bank(2),
            sources=(dc_dc, replace(shore, **changes)),
        )
        return sizing.size_system(design)

    def test_clip_is_a_caution_with_words_for_the_quote(self):
        check = self.sized().check("controller:A/clip")
        assert check.value == pytest.approx(0.165, abs=0.0005)
        assert check.verdict is Verdict.CAUTION
        assert "quote" in check.sentence

    def test_everything_at_once_blocks(self):
        check = self.sized().check("bank/charge_sum")
        assert check.value == pytest.approx(160)
        assert check.limit == pytest.approx(100)
        assert check.verdict is Verdict.BLOCK

    def test_an_interlocked_shore_charger_is_allowed(self):
        check = self.sized(excluded_with=("solar", "dcdc")).check("bank/charge_sum")
        assert check.value == pytest.approx(100)
        assert (check.verdict, check.margin) == (Verdict.CAUTION, 0.0)  # 60 + 40 A on a bank that takes 100 A

    def test_a_shore_charger_limited_to_nothing_adds_nothing(self):
        check = self.sized(limited_to_a=0.0).check("bank/charge_sum")
        assert (check.value, check.verdict, check.margin) == (100.0, Verdict.CAUTION, 0.0)


class TestPublishedRangeOfSeriesCounts:
    """How many of the invented panels may stand in series, worked by hand at 97 % of the limit."""

    @pytest.mark.parametrize(
        ("kind", "limit_v", "tmin_c", "most", "volts"),
        [
            (P100, 100, -20, 3, 75.6),
            (P100, 150, -30, 5, 129.3),
            (P200, 100, -20, 3, 82.1),
            (P200, 150, -30, 5, 140.2),
            (P400, 100, -20, 2, 82.9),
            (P400, 150, -30, 3, 127.2),
        ],
    )
    def test_series_maximum(self, kind, limit_v, tmin_c, most, volts):
        assert sizing.series_maximum(kind, pv_voltage_limit_v=limit_v, tmin_c=tmin_c) == most
        assert most * sizing.cold_voltages(kind, tmin_c)[0].voc_v == pytest.approx(volts, abs=0.1)


class TestStraightParallel:
    """Common practice, no source: 9 to 10 A panels side by side are about 20, 30, 40 A."""

    @pytest.mark.parametrize(("count", "about_a"), [(2, 20), (3, 30), (4, 40)])
    def test_currents_add(self, count, about_a):
        unit = controller(100, 60)
        result = sizing.size_system(array(P200, count, 1, unit, circuits=(home_run(4.0, "10"),)))
        assert result.controllers[0].imp_a == pytest.approx(about_a, abs=1.0)

    @pytest.mark.parametrize("size", ["12", "10"])
    def test_from_the_third_panel_on_the_usual_run_warns(self, size):
        unit = controller(100, 60)
        for count in (3, 4):
            result = sizing.size_system(array(P200, count, 1, unit, circuits=(home_run(4.0, size),)))
            found = [check.verdict for check in result.checks if check.key.startswith("circuit:C2/")]
            assert max(verdict.severity for verdict in found) >= Verdict.CAUTION.severity


def test_neither_coefficient_nor_table_is_unknown_even_with_a_diode():
    diode = sizing.SingleDiode(0.0089, 0.98, 10.2, 1e-10, 0.1, 500.0)
    bare = replace(P200, beta_voc_fraction_per_c=None, single_diode=diode)
    assert sizing.cold_voltages(bare, -41.0) == ()
    assert sizing.series_maximum(bare, pv_voltage_limit_v=100.0, tmin_c=-41.0) is None


def test_a_coefficient_that_leaves_no_volts_has_no_series_count():
    odd = replace(P200, beta_voc_fraction_per_c=-0.02)
    assert sizing.series_maximum(odd, pv_voltage_limit_v=100.0, tmin_c=80.0) is None


class TestUnequalStrings:
    """Two P100 (5.8 A, fuse at most 15 A) beside two panels of the same volts and 13.8 A."""

    STRONG = replace(P100, name="strong", pmp_w=240.0, imp_a=12.9, isc_a=13.8, max_series_fuse_a=25.0)

    def sized(self, **more):
        panels = placed(P100, 2) + tuple(replace(each, panel=self.STRONG) for each in placed(P100, 4)[2:])
        return sizing.size_system(replace(golden(), panels=panels, strings=wired(4, 2), **more))

    def test_the_weak_string_needs_a_fuse_against_the_strong_one(self):
        """1.25 × 13.8 = 17.25 A flow back into a panel that stands 15 A; its own 1.25 × 5.8 would be 7.25."""
        result = self.sized()
        weak = result.check("string:S1/fuse")
        assert "are required" in weak.sentence
        assert weak.value == 10.0  # 1.5625 × 5.8 = 9.06 A
        assert "1.25 × 13.8 = 17.25 A" in weak.substituted
        assert result.controllers[0].needs_string_fuse is True

    def test_the_strong_string_needs_none_against_the_weak_one(self):
        """1.25 × 5.8 = 7.25 A into panels of 25 A."""
        strong = self.sized().check("string:S2/fuse")
        assert strong.value == pytest.approx(7.25)
        assert "no fuse required" in strong.sentence

    def test_the_run_of_the_weak_string_needs_protection(self):
        run = CircuitInput("C1", CircuitKind.STRINGS_TO_COMBINER, 2.0, serves="string:S1", size="10")
        row = next(each for each in self.sized(circuits=(run,)).circuits if each.id == "C1")
        assert row.fuse_a == 10.0

    def test_three_equal_strings_are_as_they_were(self):
        """2 × 1.25 × 5.8 = 14.5 A, within 15 A."""
        three = replace(golden(), panels=placed(P100, 3), strings=wired(3, 1), circuits=())
        check = sizing.size_system(three).check("string:S1/fuse")
        assert check.value == pytest.approx(14.5)
        assert "(3 − 1) × 1.25 × 5.8 = 14.50 A" in check.substituted
