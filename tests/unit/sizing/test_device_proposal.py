"""Which device is proposed where the one there does not pass. Families and ratings: the table of devices."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizing.core.checks import Verdict
from sizing.core.inputs import CircuitInput, CircuitKind, OcpdInput
from tests.designs import P200, lfp_bank, placed, wired
from tests.unit.sizing.fault import design, main_run, row
from tests.unit.sizing.wiring import home_run, judged, system

DEVICE = ("ocpd_rating", "ocpd_cable", "ocpd_voltage", "interrupting", "series_fuse", "inverter_max_fuse")


def put(asked, rows):
    """Return the design with every proposal in the place of its device."""
    circuits = []
    for each in asked.circuits:
        found = rows[each.id]
        if found.proposed_family:
            device = OcpdInput(found.proposed_fuse_a, found.proposed_family)
            if each.ocpd is not None:
                device = replace(device, distance_to_source_m=each.ocpd.distance_to_source_m)
            each = replace(each, ocpd=device, has_no_ocpd=False)
        circuits.append(each)
    return replace(asked, circuits=tuple(circuits))


@pytest.mark.parametrize(
    ("device", "family"),
    [
        (OcpdInput(400.0, "post"), "class T"),  # 10 kA at 12 V where the shop asks 20 kA
        (OcpdInput(400.0), "class T"),  # nobody said what it is
        (OcpdInput(400.0, "strip", interrupting_a=6_000.0), "class T"),
    ],
)
def test_a_lithium_main_gets_class_t(device, family):
    """300 Ah, 3 kW at 12 V: 370.6 A to carry (worked in the wiring stories), so 400 A on 4/0."""
    main = CircuitInput(
        "C4",
        CircuitKind.BATTERY_TO_MAIN_FUSE,
        0.15,
        size="4/0",
        ocpd=replace(device, distance_to_source_m=0.15),
    )
    asked = design(lfp_bank(3), main)
    rows, _ = judged(asked)
    assert (rows["C4"].proposed_family, rows["C4"].proposed_fuse_a) == (family, 400.0)
    _, checks = judged(put(asked, rows))
    left = [checks[f"circuit:C4/{name}"].verdict for name in DEVICE if f"circuit:C4/{name}" in checks]
    assert set(left) == {Verdict.PASS}


def test_what_passes_is_left_alone():
    rows, _ = judged(design(lfp_bank(3), main_run()))
    assert (rows["C4"].proposed_family, rows["C4"].proposed_note) == ("", "")


def test_the_engines_own_amps_come_with_the_family_that_breaks_what_can_flow():
    """300 Ah of lithium, shop policy 20 kA: class T, made in 400 A; 900 A by the maker: a blade of 1 kA."""
    rows, _ = judged(design(lfp_bank(3), CircuitInput("C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.15)))
    assert (rows["C4"].is_proposed_fuse, rows["C4"].proposed_family) == (True, "class T")
    assert (rows["C4"].proposed_fuse_a, rows["C4"].proposed_note) == (None, "")
    panel = CircuitInput("C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, current_a=15)
    rows, _ = judged(design(lfp_bank(1, short_circuit_a=900.0), main_run(), panel))
    assert rows["C11"].proposed_family.startswith("blade")


def test_no_family_is_named_where_none_is_made_for_it():
    """18 kA and 20 A: class T begins at 60 A."""
    panel = CircuitInput("C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, current_a=15)
    rows, _ = judged(design(lfp_bank(3), main_run(), panel))
    assert (rows["C11"].is_proposed_fuse, rows["C11"].proposed_family) == (True, "")


def test_a_small_stated_fault_takes_the_cheapest_family():
    """900 A by the maker: a 25 A blade breaks 1 kA; 20 A for 15 A continuous is 18.75 A."""
    panel = CircuitInput(
        "C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, size="10", current_a=15, ocpd=OcpdInput(25.0)
    )
    rows, _ = judged(design(lfp_bank(1, short_circuit_a=900.0), main_run(), panel))
    assert rows["C11"].proposed_family.startswith("blade")
    assert rows["C11"].proposed_fuse_a == 25.0  # the rating there does, and stays


def test_a_rating_that_is_too_large_for_the_cable_comes_down():
    """10 AWG carries 60 A by 33 CFR table 5: a 100 A device for 15 A goes down to 20 A."""
    panel = CircuitInput(
        "C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, size="10", current_a=15, ocpd=OcpdInput(100.0, "SF30")
    )
    rows, _ = judged(design(lfp_bank(1, short_circuit_a=900.0), main_run(), panel))
    assert rows["C11"].proposed_fuse_a == 20.0


def test_no_protection_gets_a_device():
    bare = CircuitInput("C11", CircuitKind.BUS_TO_DC_PANEL, 2.0, size="10", current_a=15, has_no_ocpd=True)
    rows, _ = judged(design(lfp_bank(3), main_run(), bare))
    assert (rows["C11"].proposed_family, rows["C11"].proposed_fuse_a) == ("class T", 60.0)


def test_array_devices_are_of_the_array_family():
    """Two P200 in series reach over 48 V: a blade is made for 32 V, gPV for 1000 V."""
    run = home_run(size="10", ocpd=OcpdInput(20.0, "blade"))
    rows, checks = judged(system(run, panels=placed(P200, 2), strings=wired(2, 2)))
    assert checks["circuit:C2/ocpd_voltage"].verdict is Verdict.BLOCK
    assert rows["C2"].proposed_family.startswith("gPV")


def test_where_no_family_will_do_it_says_what_to_look_for():
    """1000 Ah of lithium: 25 kA at the low end, more than any family of the table breaks."""
    main = row("C4", "4/0", 0.15, away_m=0.15, family="class T")
    main = replace(main, ocpd=replace(main.ocpd, rating_a=400.0))
    rows, _ = judged(design(lfp_bank(10), main))
    assert rows["C4"].proposed_family == ""
    assert "no family of the table does better" in rows["C4"].proposed_note
    assert "kA" in rows["C4"].proposed_note


def test_a_proposal_that_is_better_but_no_pass_says_what_is_left():
    """400 Ah of lithium give up to 24 kA: class T is a caution where a terminal fuse blocks."""
    main = row("C4", "4/0", 0.15, away_m=0.15, family="post")
    main = replace(main, ocpd=replace(main.ocpd, rating_a=400.0))
    rows, _ = judged(design(lfp_bank(4), main))
    assert rows["C4"].proposed_family == "class T"
    assert "still to be answered" in rows["C4"].proposed_note


def test_line_voltage_gets_none():
    shore = CircuitInput("C14", CircuitKind.SHORE_AC_IN, 2.0, size="10", current_a=30, ocpd=OcpdInput(60.0))
    rows, _ = judged(system(shore))
    assert rows["C14"].proposed_family == ""


def test_a_better_device_is_proposed_though_something_else_is_not_known():
    """Volts at the start battery not known; of 5 kA asked a small bolt-down breaks 1, a terminal fuse 10."""
    start = CircuitInput(
        "C8", CircuitKind.START_BATTERY_TO_DC_DC, 3.0, size="4", ocpd=OcpdInput(60.0, "sf30")
    )
    rows, checks = judged(design(lfp_bank(3), main_run(), start))
    assert checks["circuit:C8/ocpd_voltage"].verdict is Verdict.NOT_ENOUGH_DATA
    assert rows["C8"].proposed_family == "terminal fuse at the post"
    assert "no family" not in rows["C8"].proposed_note


def test_an_unknown_bank_asks_for_no_other_device():
    rows, checks = judged(replace(design(lfp_bank(3), main_run()), bank=None))
    assert checks["circuit:C4/interrupting"].verdict is Verdict.NOT_ENOUGH_DATA
    assert (rows["C4"].proposed_family, rows["C4"].proposed_note) == ("", "")
