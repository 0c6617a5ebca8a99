"""Axles, pre-charge, bay days, modules, sun, face: edges and refusals. Equipment is invented."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from dataclasses import replace

import pytest

import sizing
from sizing import Verdict
from tests.designs import P200, golden


class TestPrecharge:
    def test_time_by_hand(self):
        """2·R·C·ln(V/1 V) = 2 × 50 × 0.02 × ln 12.8 = 5.1 s."""
        plan = sizing.precharge_plan(12.8)
        assert plan.hold_s == pytest.approx(5.1, abs=0.01)
        assert plan.first_power_w == pytest.approx(12.8**2 / 50)
        assert plan.is_within_rating

    def test_never_below_three_seconds(self):
        assert sizing.precharge_plan(12.8, capacitance_f=0.001).hold_s == 3.0

    def test_the_switch_may_be_closed_below_a_volt(self):
        assert sizing.judge_precharge(-0.4).verdict is Verdict.PASS
        assert sizing.judge_precharge(3.0).verdict is Verdict.BLOCK
        assert sizing.judge_precharge(None).verdict is Verdict.NOT_ENOUGH_DATA

    @pytest.mark.parametrize("changes", [{"resistance_ohm": 10.0}, {"capacitance_f": 0.0}, {"v_bus_v": 0.5}])
    def test_impossible_questions_are_named_errors(self, changes):
        asked = {"v_bus_v": 12.8, **changes}
        with pytest.raises(sizing.InputOutOfRange):
            sizing.precharge_plan(asked.pop("v_bus_v"), **asked)


class TestBayDays:
    def test_reference_job_takes_five_shop_days(self):
        assert sizing.bay_days(28.2) == 5

    def test_two_people_and_a_driveway(self):
        assert sizing.bay_days(28.2, people=2) == 3
        assert sizing.bay_days(11.0, place="driveway") == 2
        assert sizing.bay_days(0.0) == 0

    @pytest.mark.parametrize("changes", [{"plan_h": -1.0}, {"place": "moon"}, {"people": 5}])
    def test_impossible_questions_are_named_errors(self, changes):
        asked = {"plan_h": 10.0, **changes}
        with pytest.raises(sizing.InputOutOfRange):
            sizing.bay_days(asked.pop("plan_h"), **asked)


class TestModules:
    def test_search_by_words_and_watts(self):
        found = sizing.find_modules("", pmp_from_w=300.0, pmp_to_w=320.0, limit=5)
        assert len(found) == 5
        assert all(300.0 <= module.pmp_w <= 320.0 for module in found)
        word = found[0].name.split()[0].upper()
        assert sizing.find_modules(word, limit=1)[0].name.upper().startswith(word)
        assert sizing.find_modules("no such maker at all") == ()

    def test_only_the_name_is_searched(self):
        """The list names the cell of every module in a column of its own."""
        assert sizing.find_modules("mono-c-si") == ()

    def test_a_module_by_its_name(self):
        first = sizing.find_modules("", limit=1)[0]
        assert sizing.module_by_name(first.name) == first
        with pytest.raises(LookupError):
            sizing.module_by_name("nobody's panel")

    def test_a_module_becomes_a_panel(self):
        module = next(m for m in sizing.find_modules("", limit=200) if m.length_m)
        panel = sizing.panel_from_module(module, mass_kg=18.0)
        assert panel.length_m == module.length_m
        assert panel.single_diode == module.single_diode

    def test_missing_dimensions_are_asked_for(self):
        module = replace(sizing.find_modules("", limit=1)[0], length_m=None)
        with pytest.raises(sizing.InputOutOfRange, match="length_m"):
            sizing.panel_from_module(module, mass_kg=18.0)

    @pytest.mark.parametrize("asked", [{"limit": 0}, {"pmp_from_w": 300.0, "pmp_to_w": 200.0}])
    def test_impossible_searches_are_named_errors(self, asked):
        with pytest.raises(sizing.InputOutOfRange):
            sizing.find_modules("x", **asked)

    @pytest.mark.parametrize(
        ("changes", "fields"),
        [
            ({"vmp_v": 25.0, "pmp_w": 245.0}, ("vmp_v", "voc_v")),
            ({"imp_a": 10.3, "pmp_w": 210.0}, ("imp_a", "isc_a")),
            ({"pmp_w": 210.0}, ("pmp_w", "vmp_v", "imp_a")),
            ({"cells_in_series": 20}, ("cells_in_series", "voc_v")),
            ({"length_m": 0.8}, ("length_m", "width_m", "pmp_w")),
            ({"max_series_fuse_a": 10.0}, ("max_series_fuse_a", "isc_a")),
        ],
    )
    def test_sheets_that_contradict_themselves_name_their_fields(self, changes, fields):
        panel = replace(P200, **changes)
        assert [found.fields for found in sizing.sheet_contradictions(panel)] == [fields]
        with pytest.raises(sizing.InputOutOfRange, match=fields[0]):
            sizing.fit_single_diode(panel)

    def test_a_sound_sheet_has_none(self):
        assert sizing.sheet_contradictions(P200) == ()
        assert sizing.sheet_contradictions(replace(P200, cells_in_series=None, max_series_fuse_a=None)) == ()

    @pytest.mark.parametrize("missing", ["beta_voc_fraction_per_c", "cells_in_series"])
    def test_a_fit_needs_coefficient_and_cells(self, missing):
        with pytest.raises(sizing.InputOutOfRange, match=missing):
            sizing.fit_single_diode(replace(P200, **{missing: None}))

    def test_a_sheet_no_diode_describes_is_told(self):
        square = replace(P200, vmp_v=24.0, imp_a=10.15, pmp_w=243.6)
        with pytest.raises(sizing.FitFailed, match="voc_v"):
            sizing.fit_single_diode(square)

    def test_a_fitted_panel_reads_by_both_methods(self):
        sheet = replace(P200, gamma_pmp_fraction_per_c=None)
        fitted = replace(sheet, single_diode=sizing.fit_single_diode(sheet).single_diode)
        by_diode = sizing.expected_by_diode(fitted, ns=2, poa_global_w_m2=820.0, temp_cell_c=48.0)
        handbook = sizing.expected_readings(fitted, ns=2, poa_global_w_m2=820.0, temp_cell_c=48.0)
        assert by_diode.voc_v == pytest.approx(handbook.voc_v, rel=0.03)
        assert by_diode.method != handbook.method

    def test_reading_by_diode_needs_the_parameters(self):
        with pytest.raises(sizing.InputOutOfRange, match="single_diode"):
            sizing.expected_by_diode(P200, ns=2, poa_global_w_m2=820.0, temp_cell_c=48.0)

    @pytest.mark.parametrize("asked", [(0.0, 25.0), (1000.0, -300.0)])
    def test_impossible_light_or_cold_is_a_named_error(self, asked):
        diode = sizing.find_modules("", limit=1)[0].single_diode
        for call in (sizing.diode_voc_v, sizing.diode_point):
            with pytest.raises(sizing.InputOutOfRange):
                call(diode, poa_global_w_m2=asked[0], temp_cell_c=asked[1])

    def test_three_methods_of_cold_volts_are_compared(self):
        design = golden()
        diode = sizing.fit_single_diode(P200).single_diode
        panels = tuple(replace(each, panel=replace(P200, single_diode=diode)) for each in design.panels)
        result = sizing.size_system(replace(design, panels=panels))
        assert [name for name, _ in result.controllers[0].voc_cold_by_method] == [
            "module coefficient",
            "code table",
            "single-diode model",
        ]
        tight = replace(design.controllers[0], pv_voltage_limit_v=58.0)
        check = sizing.size_system(replace(design, controllers=(tight,))).check(
            "controller:A/cold_voc_methods"
        )
        assert check.verdict is Verdict.CAUTION
        assert "the methods disagree" in check.sentence.lower()


class TestSun:
    @pytest.mark.parametrize(
        "call",
        [
            lambda: sizing.solar_position(dt.datetime(2026, 6, 1), latitude_deg=0.0, longitude_deg=0.0),
            lambda: sizing.solar_position(
                dt.datetime(2026, 6, 1, tzinfo=dt.UTC), latitude_deg=99.0, longitude_deg=0.0
            ),
            lambda: sizing.sun_times(
                dt.datetime(2026, 6, 1, tzinfo=dt.UTC), latitude_deg=9.0, longitude_deg=999.0
            ),
            lambda: sizing.cell_temp_noct_c(20.0, -1.0, 45.0),
            lambda: sizing.cell_temp_noct_c(20.0, 800.0, 10.0),
            lambda: sizing.cell_temp_sapm_c(800.0, 20.0, 1.0, mounting="on a string"),
            lambda: sizing.cell_temp_sapm_c(-800.0, 20.0, 1.0, mounting="open_rack_glass_glass"),
        ],
    )
    def test_impossible_questions_are_named_errors(self, call):
        with pytest.raises(sizing.InputOutOfRange):
            call()

    @pytest.mark.parametrize("changes", [{"dni_w_m2": -1.0}, {"albedo": 2.0}])
    def test_impossible_light_is_a_named_error(self, changes):
        asked = {
            "surface_tilt_deg": 30.0,
            "surface_azimuth_deg": 180.0,
            "solar_zenith_deg": 40.0,
            "solar_azimuth_deg": 180.0,
            "dni_w_m2": 800.0,
            "ghi_w_m2": 700.0,
            "dhi_w_m2": 100.0,
            **changes,
        }
        with pytest.raises(sizing.InputOutOfRange):
            sizing.poa_isotropic_w_m2(**asked)

    def test_polar_day_has_no_sunrise(self):
        noon = dt.datetime(2026, 6, 21, 12, tzinfo=dt.UTC)
        assert sizing.sun_times(noon, latitude_deg=80.0, longitude_deg=0.0) is None

    def test_elevation_is_the_rest_of_the_zenith(self):
        noon = dt.datetime(2026, 6, 21, 12, tzinfo=dt.UTC)
        sun = sizing.solar_position(noon, latitude_deg=23.4, longitude_deg=0.0)
        assert sun.apparent_elevation_deg > 88.0


class TestFace:
    def test_every_name_can_be_had_and_is_no_module(self):
        for name in sizing.__all__:
            found = getattr(sizing, name)
            assert type(found).__name__ != "module", name
        assert set(sizing.__all__) <= set(dir(sizing))

    def test_an_unknown_name_is_an_attribute_error(self):
        with pytest.raises(AttributeError, match=r"sizing.*wattage"):
            sizing.wattage  # noqa: B018

    def test_importing_and_sizing_loads_nothing_heavy(self):
        code = (
            "import sys, sizing; from tests.designs import golden; sizing.size_system(golden());"
            "print([name for name in ('pvlib', 'pandas', 'scipy', 'numba') if name in sys.modules])"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert done.stdout.strip() == "[]"

    def test_a_guess_matches_by_name_and_by_prefix(self):
        design = replace(golden(), guesses=frozenset({"bank", "roof.deck"}))
        result = sizing.size_system(design)
        assert result.check("bank/series").guesses == ("bank",)
        assert result.check("roof/uplift").guesses == ("roof.deck",)


class TestDiodeInTheDark:
    def test_no_light_current_has_no_volts(self):
        diode = sizing.SingleDiode(0.2, 1.5, 0.1, 1e-10, 0.3, 500.0)
        assert sizing.diode_voc_v(diode, poa_global_w_m2=1000.0, temp_cell_c=-40.0) == 0.0
