"""Counting holes, reading the meter, changing one value on the day; values worked by hand (F21, F24)."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import DeviationKind, PenetrationResult, Quantity, Verdict, WeatherSpell
from tests.designs import P200, P400, golden, placed, wired


class TestCountingHoles:
    def roofed(self, feet):
        design = golden()
        panels = tuple(replace(each, feet=count) for each, count in zip(placed(P400, 4), feet, strict=True))
        roof = replace(design.roof, cable_holes=2)
        return sizing.size_system(
            replace(design, panels=panels, strings=wired(4, 2), roof=roof, circuits=())
        ).penetrations

    def test_planned_holes(self):
        holes = self.roofed((6, 6, 6, 6))
        assert (holes.penetrations, holes.cable_holes) == (104, 2)

    def test_eight_missing_under_are_the_gland(self):
        check = sizing.seal_check(
            self.roofed((6, 6, 6, 6)), sealed_under=96, sealed_over=104, cable_holes_sealed=2
        )
        assert check.verdict is Verdict.BLOCK
        assert check.sentence == "8 under missing (gland)."

    def test_all_sealed_passes(self):
        check = sizing.seal_check(
            self.roofed((6, 6, 6, 6)), sealed_under=104, sealed_over=104, cable_holes_sealed=2
        )
        assert check.verdict is Verdict.PASS

    def test_two_more_feet_on_two_panels_reopen_the_count(self):
        holes = self.roofed((8, 8, 6, 6))
        assert holes.penetrations == 120
        check = sizing.seal_check(holes, sealed_under=104, sealed_over=104, cable_holes_sealed=2)
        assert (check.value, check.limit) == (104, 120)
        assert check.verdict is Verdict.BLOCK

    def test_a_deleted_foot_leaves_holes_to_patch(self):
        assert sizing.abandoned_holes(self.roofed((6, 6, 6, 6)), self.roofed((5, 6, 6, 6))) == 4
        assert sizing.abandoned_holes(self.roofed((5, 6, 6, 6)), self.roofed((6, 6, 6, 6))) == 0

    def test_more_sealed_than_made_blocks_too(self):
        holes = PenetrationResult(16, 64, 8, 72, 1)
        check = sizing.seal_check(holes, sealed_under=73, sealed_over=72, cable_holes_sealed=1)
        assert check.verdict is Verdict.BLOCK
        assert "one count is wrong" in check.sentence

    def test_not_counted_yet_is_not_enough_data(self):
        holes = PenetrationResult(16, 64, 8, 72, 1)
        check = sizing.seal_check(holes, sealed_under=None, sealed_over=72, cable_holes_sealed=1)
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        check = sizing.seal_check(holes, sealed_under=None, sealed_over=70, cable_holes_sealed=0)
        assert check.verdict is Verdict.BLOCK
        assert "1 cable holes missing" in check.sentence


class TestReadings:
    expected = sizing.expected_readings(P200, ns=2, poa_global_w_m2=640, temp_cell_c=43)

    def judged(self, quantity, measured, g=640.0, **more):
        return sizing.judge_reading(
            quantity, measured, self.expected, poa_global_w_m2=g, string_id="S1", **more
        )

    def test_expected(self):
        assert self.expected.voc_v == pytest.approx(45.3, abs=0.1)
        assert self.expected.voc_band_v == pytest.approx((43.0, 47.5), abs=0.1)
        assert self.expected.isc_a == pytest.approx(6.59, abs=0.1)

    def test_a_good_string(self):
        assert self.judged(Quantity.VOC, 45.6).verdict is Verdict.PASS
        amps = self.judged(Quantity.ISC, 6.40)
        assert amps.verdict is Verdict.PASS
        assert amps.margin == pytest.approx(-0.028, abs=0.001)

    def test_a_third_of_a_panel_missing(self):
        check = self.judged(Quantity.VOC, 37.9)
        assert check.verdict is Verdict.BLOCK
        assert check.margin == pytest.approx(-0.163, abs=0.0005)
        assert "about 7.4 V low ≈ one third of one panel" in check.sentence
        assert "bypassed sub-string or wrong panel" in check.sentence

    @pytest.mark.parametrize(
        ("measured", "words"),
        [
            (0.3, "connector is not seated"),
            (22.6, "1 panel: missing"),
            (52.0, "too high"),
            (34.0, "one half of one panel"),
            (-45.0, "reversed"),
            (41.0, "hotter than read"),
        ],
    )
    def test_other_voltages_have_their_hint(self, measured, words):
        check = self.judged(Quantity.VOC, measured)
        assert check.verdict is Verdict.BLOCK
        assert words in check.sentence

    @pytest.mark.parametrize(
        ("measured", "others", "words"),
        [
            (5.0, (), "shade, dirt"),
            (5.0, (5.1,), "all strings"),
            (5.0, (6.5,), "this string"),
            (0.05, (6.5,), "open fuse"),
            (9.0, (), "too high"),
        ],
    )
    def test_currents_have_their_hint(self, measured, others, words):
        check = self.judged(Quantity.ISC, measured, other_strings=others)
        assert check.verdict is Verdict.BLOCK
        assert words in check.sentence

    def test_too_little_sun_is_refused_as_a_test(self):
        check = self.judged(Quantity.VOC, 44.0, g=310.0)
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "400" in check.sentence

    def test_not_read_yet(self):
        assert self.judged(Quantity.VOC, None).verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_rough_meter_widens_the_amps_only(self):
        rough = sizing.expected_readings(P200, ns=2, poa_global_w_m2=640, temp_cell_c=43, is_rough_meter=True)
        assert rough.isc_band_a[0] == pytest.approx(0.9 * rough.isc_a)
        assert rough.voc_band_v == self.expected.voc_band_v

    def test_a_missing_cell_count_is_guessed_and_says_so(self):
        guessed = sizing.expected_readings(
            replace(P200, cells_in_series=None), ns=2, poa_global_w_m2=640, temp_cell_c=43
        )
        assert guessed.voc_v == pytest.approx(self.expected.voc_v)
        assert guessed.guesses == ("panels",)

    def test_strings_within_five_percent_of_one_another(self):
        alike = sizing.judge_strings_alike(Quantity.ISC, (6.40, 6.55))
        assert alike.verdict is Verdict.PASS
        assert sizing.judge_strings_alike(Quantity.VOC, (45.6, 37.9)).verdict is Verdict.BLOCK
        assert sizing.judge_strings_alike(Quantity.VOC, (45.6,)).verdict is Verdict.NOT_ENOUGH_DATA

    def test_insulation(self):
        test = sizing.insulation_test(48.6)
        assert (test.test_voltage_v, test.min_resistance_mohm) == (250, 0.5)
        wet = sizing.judge_insulation(0.31, 48.6, is_wet=True)
        assert wet.verdict is Verdict.BLOCK
        assert "dry them and test again" in wet.sentence
        assert sizing.judge_insulation(0.7, 48.6).verdict is Verdict.PASS  # EN 62446-1:2019 prints 0.5 MΩ
        assert sizing.judge_insulation(20.0, 48.6).verdict is Verdict.PASS
        assert sizing.judge_insulation(None, 48.6).verdict is Verdict.NOT_ENOUGH_DATA

    def test_measured_drop(self):
        assert sizing.judge_measured_drop(0.9, 0.93, circuit_id="C2").verdict is Verdict.PASS
        assert sizing.judge_measured_drop(1.4, 0.93, circuit_id="C2").verdict is Verdict.BLOCK
        assert sizing.judge_measured_drop(None, 0.93).verdict is Verdict.NOT_ENOUGH_DATA

    @pytest.mark.parametrize(
        "changes",
        [
            {"ns": 0},
            {"poa_global_w_m2": 0.0},
            {"poa_global_w_m2": float("nan")},
            {"temp_cell_c": 200.0},
            {"panel": replace(P200, beta_voc_fraction_per_c=None)},
        ],
    )
    def test_impossible_questions_are_named_errors(self, changes):
        asked = {"panel": P200, "ns": 2, "poa_global_w_m2": 640.0, "temp_cell_c": 43.0, **changes}
        with pytest.raises(sizing.InputOutOfRange):
            sizing.expected_readings(asked.pop("panel"), **asked)

    @pytest.mark.parametrize(
        "call",
        [
            lambda: sizing.judge_strings_alike(Quantity.VOC, (45.0, float("nan"))),
            lambda: sizing.judge_measured_drop(1.0, 0.0),
            lambda: sizing.insulation_test(0.0),
        ],
    )
    def test_readings_that_are_no_numbers_are_named_errors(self, call):
        with pytest.raises(sizing.InputOutOfRange):
            call()

    def test_a_reading_that_is_no_number_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match="reading"):
            self.judged(Quantity.VOC, float("nan"))


class TestLongerPath:
    """Quoted 6.1 m of 8 AWG in parallel; on the day 10.4 m of 10 AWG."""

    def changed(self, run_len_m, size, ns=1):
        design = golden()
        circuit = replace(design.circuits[0], run_len_m=run_len_m, size=size)
        return sizing.size_system(
            replace(design, panels=placed(P200, 2), strings=wired(2, ns), circuits=(circuit,))
        ).checks

    def test_the_deviation_names_the_drop(self):
        found = sizing.compare_checks(self.changed(6.1, "8"), self.changed(10.4, "10"))
        drop = next(each for each in found if each.key == "circuit:C2/drop")
        assert drop.kind is DeviationKind.CROSSED
        assert drop.blocks is drop.after.blocks
        assert drop.before.value == pytest.approx(0.0241, abs=0.0005)
        assert drop.after.value == pytest.approx(0.0655, abs=0.0005)

    def test_nothing_changed_is_no_deviation(self):
        assert sizing.compare_checks(self.changed(6.1, "8"), self.changed(6.1, "8")) == ()

    def test_a_better_value_is_told_as_cleared(self):
        found = sizing.compare_checks(self.changed(10.4, "10"), self.changed(6.1, "8"))
        drop = next(each for each in found if each.key == "circuit:C2/drop")
        assert drop.kind is DeviationKind.CLEARED

    def test_a_move_within_the_limit_is_told_above_five_percent(self):
        found = sizing.compare_checks(self.changed(6.1, "8"), self.changed(7.0, "8"))
        assert [each.kind for each in found if each.key == "circuit:C2/drop"] == [DeviationKind.MOVED]
        found = sizing.compare_checks(self.changed(6.1, "8"), self.changed(6.2, "8"))
        assert not [each for each in found if each.key == "circuit:C2/drop"]

    def test_a_new_check_is_told_unless_it_passes(self):
        after = self.changed(10.4, "10")
        found = sizing.compare_checks((), after)
        assert {each.key for each in found} == {c.key for c in after if c.verdict is not Verdict.PASS}


class TestCureClock:
    """Lap sealant at 15:00 and 14 °C; three warm hours, then 6 to 9 °C."""

    forecast = (WeatherSpell(3.0, 14.0), WeatherSpell(48.0, 7.0))

    def test_rain_safe_at_noon_next_day(self):
        assert sizing.cured_h((self.forecast[0], WeatherSpell(18.0, 7.0))) == pytest.approx(12.0)
        assert sizing.hours_until_cured_h(12.0, self.forecast) == pytest.approx(21.0)

    def test_drive_release_at_noon_on_the_third_day(self):
        assert sizing.hours_until_cured_h(24.0, self.forecast) == pytest.approx(45.0)

    def test_a_warm_bay_takes_a_day(self):
        assert sizing.hours_until_cured_h(24.0, (WeatherSpell(24.0, 18.0),)) == pytest.approx(24.0)

    def test_never_in_the_cold_or_in_dry_air(self):
        assert sizing.hours_until_cured_h(1.0, (WeatherSpell(100.0, 4.0),)) is None
        dry = (WeatherSpell(100.0, 20.0, 0.1),)
        assert sizing.hours_until_cured_h(1.0, dry, moisture_cure=True) is None
        assert sizing.hours_until_cured_h(1.0, dry) == pytest.approx(1.0)
        assert sizing.hours_until_cured_h(0.0, ()) == 0.0

    def test_negative_hours_are_named_errors(self):
        with pytest.raises(sizing.InputOutOfRange, match="hours_h"):
            sizing.cured_h((WeatherSpell(-1.0, 20.0),))
        with pytest.raises(sizing.InputOutOfRange, match="target_h"):
            sizing.hours_until_cured_h(-1.0, ())
