"""Readings judged by the sizing face, in the words the technician sees.

Expected values by hand with the handbook formula: two P200 in series at 640 W/m² and 43 °C give
48.6·(1 - 0.0028·18) + 72·0.0257·(316/298)·ln 0.64 = 45.3 V and 10.2·0.64·1.009 = 6.59 A; the 5 % band is
IEC 62446-1's between strings. 400 W/m² is common practice, from memory.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from checklists.record.events import events_record
from checklists.rules.readings import alike_checks, check_of_string, drive_release
from tests.roles import step_of


@pytest.fixture
def read(entry, bob, now):
    """Return a reader of sun, temperature and any other values."""

    def make(checklist, *values, sun=640.0, cell=43.0, meter="calibrated"):
        entries = [
            entry(checklist, "instruments", "sun_meter", meter),
            entry(checklist, "sun", "g_wm2", sun),
            entry(checklist, "sun", "t_cell_c", cell),
            *(entry(checklist, *value) for value in values),
        ]
        return events_record(checklist=checklist, entries=entries, actor=bob, at=now).work

    return make


def mark(work, role, name, subject=""):
    return work.install.mark(work.install.step(role, subject))[name]


def test_a_good_string_passes_with_its_band(checklist, read):
    work = read(
        checklist, ("string_voc", "voc_v", 45.6, "string:1"), ("string_isc", "isc_a", 6.40, "string:1")
    )
    voc, isc = mark(work, "string_voc", "voc_v", "string:1"), mark(work, "string_isc", "isc_a", "string:1")
    assert (voc.mark, isc.mark) == ("ok", "ok")
    assert voc.expected == pytest.approx(45.3, abs=0.1)
    assert (voc.low, voc.high) == (pytest.approx(43.0, abs=0.1), pytest.approx(47.5, abs=0.1))
    assert isc.expected == pytest.approx(6.59, abs=0.01)


def test_a_low_string_fails_with_a_hint_and_holds(checklist, read):
    work = read(
        checklist, ("string_voc", "voc_v", 45.6, "string:1"), ("string_voc", "voc_v", 37.9, "string:2")
    )
    found = mark(work, "string_voc", "voc_v", "string:2")
    assert found.mark == "fail"
    assert "-16.3%" in found.sentence
    assert "one third of one panel: a bypassed sub-string or wrong panel" in found.sentence
    hold = next(hold for hold in work.holds.all() if hold.step.role == "readings_pass")
    assert any(item.step.role == "string_voc" and "-16.3%" in item.sentence for item in hold.items)
    assert any("strings differ by" in item.sentence for item in hold.items)


def test_a_panels_own_curve_is_shown_beside_the_formula(checklist, read):
    """The formula rules: the same verdict, limit and band with and without the curve."""
    work = read(checklist, ("string_voc", "voc_v", 45.6, "string:1"))
    step, diode = (
        work.install.step("string_voc", "string:1"),
        sizing.find_modules("", limit=1)[0].single_diode,
    )
    known = tuple(
        replace(placed, panel=replace(placed.panel, single_diode=diode)) for placed in work.system.panels
    )
    plain = check_of_string(work.install, step, "voc_v", work.system)
    both = check_of_string(work.install, step, "voc_v", replace(work.system, panels=known))
    volts = 2 * sizing.diode_voc_v(diode, poa_global_w_m2=640.0, temp_cell_c=43.0)
    assert (
        both.sentence == f"{plain.sentence} The single-diode model expects {volts:.1f} V; the formula rules."
    )
    assert replace(both, sentence="") == replace(plain, sentence="")


def test_thin_sun_is_no_test(checklist, read):
    work = read(checklist, ("string_isc", "isc_a", 3.1, "string:1"), sun=310.0)
    found = mark(work, "string_isc", "isc_a", "string:1")
    assert found.mark == "fail"
    assert "Refused as a test: 310 W/m² is below 400 W/m²" in found.sentence


def test_a_reading_waits_for_the_sun(checklist, record):
    work = record(checklist, "string_voc", "voc_v", 45.6, "string:1").work
    assert (
        "enter the sun and the cell temperature first"
        in mark(work, "string_voc", "voc_v", "string:1").sentence
    )


def test_a_rough_sun_meter_widens_the_amps(checklist, read):
    work = read(checklist, ("string_isc", "isc_a", 6.05, "string:1"), meter="phone")  # -8.2 %
    assert mark(work, "string_isc", "isc_a", "string:1").mark == "ok"


def test_a_calibrated_meter_does_not(checklist, read):
    work = read(checklist, ("string_isc", "isc_a", 6.05, "string:1"))
    assert mark(work, "string_isc", "isc_a", "string:1").mark == "fail"


def test_wet_leads_fail_and_say_so(checklist, read):
    work = read(checklist, ("array_insulation", "resistance_mohm", 0.31), ("array_insulation", "wet", "wet"))
    found = mark(work, "array_insulation", "resistance_mohm")
    assert found.mark == "fail"
    assert "dry them and test again" in found.sentence
    assert found.low == 0.5
    test_v = next(f for f in step_of(checklist, "array_insulation").fields if f["name"] == "test_v")
    assert test_v["expected"] == 250  # IEC 62446: 1.25 × 48.6 V is under 120 V


def test_a_weak_controller_fails_unless_the_battery_is_full(checklist, read, record):
    # By hand: 800 W × 0.82 × (1 - 0.0036 × 23) × 0.96 / 13.3 V = 43.4 A; 0.85 of it is 36.9 A.
    work = read(
        checklist,
        ("first_charge", "battery_v", 13.3, "controller:A"),
        ("first_charge", "battery_a", 20.0, "controller:A"),
        sun=820.0,
        cell=48.0,
    )
    found = mark(work, "first_charge", "battery_a", "controller:A")
    assert found.mark == "fail"
    assert found.low == pytest.approx(36.9, abs=0.5)
    work = record(checklist, "first_charge", "reason", "full", "controller:A").work
    assert mark(work, "first_charge", "battery_a", "controller:A").mark == "caution"


def test_a_drop_thirty_percent_over_the_sum_is_told(checklist, read):
    # By hand: 7.2 m of 10 AWG loses 0.925 V at 19.6 A, so 0.708 V at 15 A; 1.3 times is 0.92 V.
    values = [
        ("drop_under_sun", "combiner_v", 41.0, "controller:A"),
        ("drop_under_sun", "pv_a", 15.0, "controller:A"),
    ]
    work = read(checklist, *values, ("drop_under_sun", "controller_v", 39.9, "controller:A"))
    assert mark(work, "drop_under_sun", "pv_a", "controller:A").mark == "caution"


def test_moisture_that_rose_two_points_is_a_leak(checklist, record):
    record(checklist, "arrival_moisture", "moisture_percent", 12.0)
    work = record(checklist, "leak_test", "moisture_percent", 14.0).work
    found = mark(work, "leak_test", "moisture_percent")
    assert found.mark == "fail"
    assert "14% now, 12% on arrival" in found.sentence


def test_the_cure_clock_runs_half_when_cool(checklist, entry, bob, now):
    """Below 10 °C the clock runs half (sealant makers' notes: cure time about doubles)."""
    entries = [
        entry(checklist, "sealant", "over_family", "lap"),
        entry(checklist, "cure", "temp_air_c", 7.0),
        entry(checklist, "cure", "cure_h", 20.0),
    ]
    work = events_record(checklist=checklist, entries=entries, actor=bob, at=now).work
    found = mark(work, "cure", "cure_h")
    assert found.mark == "fail"
    assert "10 of 12 hours on the cure clock" in found.sentence
    at, words = drive_release(work.install, now)
    assert (at - now).total_seconds() == 48 * 3600
    assert "24 h on the cure clock at 0.5" in words


def test_frost_stops_the_clock(checklist, entry, bob, now):
    entries = [entry(checklist, "sealant", "over_family", "lap"), entry(checklist, "cure", "temp_air_c", 2.0)]
    work = events_record(checklist=checklist, entries=entries, actor=bob, at=now).work
    assert drive_release(work.install, now) == (
        None,
        "The cure clock stands still: too cold, or the air too dry for this family.",
    )


def test_a_sheet_without_its_coefficient_expects_nothing(checklist, read):
    """Without the coefficient of its voltage a module's volts at another temperature are not known."""
    work = read(checklist, ("string_voc", "voc_v", 45.6, "string:1"))
    step = work.install.step("string_voc", "string:1")
    bare = replace(work.system.panels[0].panel, beta_voc_fraction_per_c=None)
    panels = tuple(replace(one, panel=bare) for one in work.system.panels)
    assert check_of_string(work.install, step, "voc_v", replace(work.system, panels=panels)) is None


def test_unequal_strings_are_not_compared_with_each_other(checklist, read):
    """Each is set against what it should read itself: volts follow the number of panels in series."""
    work = read(
        checklist, ("string_voc", "voc_v", 45.6, "string:1"), ("string_voc", "voc_v", 37.9, "string:2")
    )
    one, *rest = work.system.strings
    shorter = replace(one, panel_ids=one.panel_ids[:1])
    assert alike_checks(work.install, work.system)
    assert alike_checks(work.install, replace(work.system, strings=(shorter, *rest))) == ()
