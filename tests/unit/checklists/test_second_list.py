"""What a master technician asks of the list: make-safe first, nothing energized before Go, people first.

Each test is one situation on the job. Limits named here are those of the trade: under 1 V DC and 5 V AC is
de-energized (common practice), 0.1 ohm from the farthest frame to the chassis, a cable hole a seal.
"""

from __future__ import annotations

import json
import re

import pytest

from checklists.plan.roles import roles_of
from checklists.plan.steps import planned_steps
from checklists.plan.templates import templates
from checklists.record.read import work_of
from checklists.rules.entries import EntryRefused
from checklists.rules.install import OverrideInfo
from checklists.rules.judging import Mark
from checklists.rules.readings import judge_plain
from tests.roles import step_of
from tests.unit.checklists.conftest import open_for
from tests.unit.checklists.pure_job import AT, BATTERY, FLEXIBLE, PANELS, RESEAL, WHOLE, PureJob, facts_of
from tests.unit.checklists.walk import complete

DATA = templates("2")
ROLES = roles_of("2")


def sentences(job: PureJob, role: str) -> list[str]:
    """Return what keeps a hold shut."""
    return [item.sentence for item in job.hold(role).items]


def asked(scopes: tuple[str, ...]) -> set[str]:
    """Return the codes of the steps a job is asked."""
    return {step.code for step in planned_steps(facts_of(scopes), "2") if step.is_in_scope}


def check_in(job: PureJob) -> None:
    """Do phase A and B well."""
    for role, name, value in (
        ("right_vehicle", "vin_tail", "003456"), ("walk_round", "stains", "none"),
        ("works_before", "tried", all_lines(job, "works_before", "tried")),
        ("works_before", "not_working", "none"), ("battery_before", "rest_v", 12.9),
        ("battery_before", "rest_time", "from_4"), ("shore_before", "polarity", "correct"),
        ("shore_before", "gfci", "trips"), ("custody", "signed", {"name": "Pat Reed", "ink": ""}),
        ("vehicle_held", "held", all_lines(job, "vehicle_held", "held")),
        ("roof_access", "protection", "rail"), ("locked_out", "off", all_lines(job, "locked_out", "off")),
        ("locked_out", "off_reseal", all_lines(job, "locked_out", "off_reseal")),
        ("locked_out", "breakaway", "none"), ("proven_dead", "meter", "M-07"),
        ("proven_dead", "meter_calibrated", "2026-03-01"), ("proven_dead", "bus_v", 0.1),
        ("proven_dead", "aboard", "neither"),
    ):  # fmt: skip
        step = next((s for s in job.steps if s.role == role and s.is_in_scope), None)
        if step and any(spec.name == name for spec in step.specs):
            job.record(role, name, value)
    for role, name, count in (
        ("right_vehicle", "photo", 2), ("walk_round", "photo", 5), ("battery_before", "photo", 2),
        ("battery_before", "photo_battery", 4), ("roof_access", "photo", 1), ("locked_out", "photo", 1),
    ):  # fmt: skip
        step = next((s for s in job.steps if s.role == role and s.is_in_scope), None)
        if step and any(spec.name == name for spec in step.specs):
            for _ in range(count):
                job.record(role, name, None)


def all_lines(job: PureJob, role: str, name: str) -> str:
    """Return a group of ticks with every line ticked; blank where the job has no such step."""
    step = next((s for s in job.steps if s.role == role and s.is_in_scope), None)
    spec = next((spec for spec in step.specs if spec.name == name), None) if step else None
    return ",".join(key for key, _ in spec.lines) if spec else ""


# --- which steps a job is asked ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scopes", "has", "has_not"),
    [
        (PANELS, "A1 A2 A3 A4 A6 B1 B2 B3 B4 C1 D2 D12 E3 F4 G5 G9 G12 I2 I5 J1 J4 J5 K1 K4 K12 K14 L5 M3",
         "A5 G1 G2 G3 G11 H1 H7 J2 K5 K6 K9 K10 K11 D9 D11"),
        (FLEXIBLE, "B3 B4 C1 D1 D4 D9 D10 D12 E3 G12 I5 K4 L1 L5", "D2 D3 D7 D8 I2 G1 H1"),
        (BATTERY, "A1 A3 A4 A6 B1 B3 B4 F1 F2 G1 G3 G9 G11 G12 I1 I5 J1 J3 J4 J5 K10 K11 K12 K14 L4 L5 M3",
         "B2 C1 D1 E3 F3 F4 H1 J2 K1 K2 K4 L1 L2"),
        (RESEAL, "A1 A2 A6 B1 B2 B3 C1 D1 D11 L1 L2 L3 L4 L5 M3", "A3 A4 B4 C2 D2 D4 D12 E1 F1 G5 I5 J1 K12"),
        (WHOLE, "A5 H1 H4 H7 J2 G7 K5 K6 K7 K8 K9", "D9 D11"),
    ],
)  # fmt: skip
def test_a_job_is_asked_its_own_steps(scopes, has, has_not):
    found = asked(scopes)
    assert set(has.split()) <= found
    assert not set(has_not.split()) & found


def test_a_panels_only_job_asks_for_fuse_and_torque_and_stays_shut_without_a_rating():
    job = PureJob(PANELS)
    assert {"B3", "B4", "F4", "G5", "G12"} <= asked(PANELS)
    job.record("protection", "protection", "fitted", "circuit:C2")
    told = [(item.step.code, item.sentence) for item in job.hold("battery_complete").items]
    assert any(code == "G5" and "Rating" in words for code, words in told)
    assert not job.hold("go").is_passed


# --- make safe, in order ----------------------------------------------------------------------------------


def test_the_battery_negative_comes_off_after_the_old_solar():
    job = PureJob(PANELS)
    keys = [key for key, _ in next(s for s in job.step("locked_out").specs if s.name == "off").lines]
    old_solar, negative = keys.index("old_solar"), keys.index("negative")
    assert old_solar < negative
    before = keys[:old_solar]
    job.record("locked_out", "off", ",".join(before))
    with pytest.raises(EntryRefused, match=r"(?i)old solar"):
        job.record("locked_out", "off", ",".join([*before, "negative"]))


def test_a_dead_breakaway_keeps_the_proof_shut():
    job = PureJob(BATTERY)
    check_in(job)
    assert job.hold("proven_dead").is_passed
    job.record("locked_out", "breakaway", "dead")
    assert any("breakaway" in words for words in sentences(job, "proven_dead"))


@pytest.mark.parametrize("scopes", [PANELS, FLEXIBLE, RESEAL, WHOLE])
def test_no_roof_step_opens_before_nobody_can_fall(scopes):
    job = PureJob(scopes)
    roof = [
        s for s in job.install.in_scope if ROLES.phase_of(s.code) in {"layout", "mount_seal", "roof_wiring"}
    ]
    assert roof
    assert all(job.holds.locks(step) for step in roof)
    check_in(job)
    opened = job.step("roof_checked")
    assert not job.holds.locks(opened)
    job.record("roof_access", "protection", "none")
    assert all(job.holds.locks(step) for step in roof)


def test_the_proof_is_never_let_pass():
    job = PureJob(BATTERY)
    assert not job.hold("proven_dead").can_be_overridden
    hold = job.hold("proven_dead")
    covers = frozenset(item.key for item in hold.items)
    job.overrides.append(OverrideInfo(hold.step.pk, "Alice Test", "Owner looked at it himself", covers))
    assert not job.hold("proven_dead").is_passed


@pytest.mark.parametrize(("volts", "is_passed"), [(0.9, True), (1.0, False), (12.6, False)])
def test_one_volt_is_not_de_energized(volts, is_passed):
    job = PureJob(BATTERY)
    check_in(job)
    job.record("proven_dead", "bus_v", volts)
    assert job.hold("proven_dead").is_passed is is_passed


# --- the roof ---------------------------------------------------------------------------------------------


def test_the_cable_entry_is_looked_under_too():
    job = PureJob(PANELS)
    check_in(job)
    job.record("clear_below", "clear", "feet")
    assert any("cable entry" in words for words in sentences(job, "layout_accepted"))
    assert job.locks("feet", "panel:1")


def test_a_cap_bead_waits_for_primed_edges():
    job = PureJob(PANELS)
    assert any("Edges" in words or "D6" in words for words in job.locks("seal_over", "panel:1"))


def test_eight_screws_in_nine_holes_leave_one_to_patch():
    """Two panels of 4 feet and 1 screw are 8 and 1 gland screw 9 holes; 9 drilled for 8 leave one."""
    job = PureJob(PANELS)
    job.record("feet", "feet", 4, "panel:1")
    job.record("feet", "holes", 5, "panel:1")
    job.record("feet", "feet", 4, "panel:2")
    job.record("feet", "holes", 4, "panel:2")
    for panel in "12":
        for foot in range(1, 5):
            job.record("seal_under", f"foot_{foot}", 1, f"panel:{panel}")
            job.record("seal_over", f"foot_{foot}", 1, f"panel:{panel}")
    job.record("seal_under", "holes", 1, "gland:box")
    job.record("seal_over", "holes", 1, "gland:box")
    job.record("cable_entry", "cable_holes", 2)
    job.record("cable_entry", "cable_holes_sealed", 1)
    told = " ".join(sentences(job, "seal_count"))
    assert "1 unused hole" in told
    assert "Cable holes: 2 made, 1 sealed" in told
    job.record("edges_metals", "patched", 1)
    job.record("cable_entry", "cable_holes_sealed", 2)
    told = " ".join(sentences(job, "seal_count"))
    assert "unused" not in told
    assert "Cable holes" not in told


def test_bond_is_measured_after_it_is_fitted_and_at_most_a_tenth_of_an_ohm():
    job = PureJob(PANELS)
    assert job.locks("bond_continuity")
    assert job.step("bond_fitted") in job.holds.needs(job.step("bond_continuity")).steps
    job.record("bond_continuity", "resistance_ohm", 0.4)
    assert any("not bonded" in words for words in sentences(job, "go"))
    job.record("bond_continuity", "resistance_ohm", 0.1)
    assert not any("not bonded" in words for words in sentences(job, "go"))


def test_the_chassis_bond_waits_for_the_search_for_shorts():
    job = PureJob(BATTERY)
    check_in(job)
    assert any("No short" in words for words in job.locks("chassis_bond"))
    job.record("no_short", "lowest_mohm", 5.0)
    assert not job.locks("chassis_bond")


# --- AC ---------------------------------------------------------------------------------------------------


def test_no_ac_wire_before_somebody_answers_for_it():
    job = PureJob(WHOLE)
    check_in(job)
    assert any("Licensed person" in words for words in job.locks("ac_wired"))


@pytest.mark.parametrize(
    ("kind", "alone", "is_right"),
    [("floating", "open", True), ("floating", "bonded", False), ("relay", "open", False),
     ("relay", "bonded", True), ("always", "bonded", True), ("always", "open", False)],
)  # fmt: skip
def test_neutral_reads_as_the_manual_says(kind, alone, is_right):
    job = PureJob(WHOLE)
    job.record("neutral_kind", "kind", kind, by_name="Lee Wright")
    job.record("inverter_alone", "neutral", alone, by_name="Lee Wright")
    step = job.step("inverter_alone")
    found = judge_plain(job.install)[step.pk, "neutral"]
    assert (found.mark is Mark.OK) is is_right


def test_a_manual_that_does_not_say_stops_the_ac_work():
    job = PureJob(WHOLE)
    job.record("neutral_kind", "kind", "not_said")
    assert any("maker" in words for words in sentences(job, "ac_accepted"))


def test_two_bonds_on_shore_power_never_pass():
    job = PureJob(WHOLE)
    job.record("shore_on", "neutral", "bonded")
    hold = job.hold("readings_pass")
    (item,) = [item for item in hold.items if item.step.role == "shore_on" and "bonds" in item.sentence]
    assert not item.can_be_overridden


# --- what worked before, alarms ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after", "mark"),
    [("none", "road_lights", Mark.FAIL), ("road_lights", "road_lights", Mark.CAUTION),
     ("road_lights", "none", Mark.OK), ("none", "none", Mark.OK), ("pump", "pump,fridge", Mark.FAIL)],
)  # fmt: skip
def test_what_worked_before_works_after(before, after, mark):
    job = PureJob(BATTERY)
    job.record("works_before", "not_working", before)
    job.record("functions_after", "not_working", after)
    step = job.step("functions_after")
    found = judge_plain(job.install)[step.pk, "not_working"]
    assert found.mark is mark
    job.judged = {(step.pk, "not_working"): found}
    is_shut = any("worked at check-in" in words for words in sentences(job, "readings_pass"))
    assert is_shut is (mark is Mark.FAIL)


def test_a_silent_gas_alarm_is_never_let_pass():
    job = PureJob(BATTERY)
    job.record("alarms_tested", "silent", "lp_alarm")
    (item,) = [i for i in job.hold("readings_pass").items if "until it sounds" in i.sentence]
    assert not item.can_be_overridden


# --- safety lines, people first ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("role", "line"),
    [("string_tests", "arc"), ("dc_dc_load", "co"), ("battery", "lithium"), ("bank_polarity", "lithium"),
     ("bond_continuity", "roof"), ("shore_on", "ac"), ("alarms_tested", "lp"), ("locked_out", "pv")],
)  # fmt: skip
def test_a_step_carries_the_lines_it_needs(role, line):
    job = PureJob(WHOLE)
    step = next(s for s in job.steps if s.role == role and s.is_in_scope)
    assert DATA["safety"][line] in step.traits.safety


def test_every_step_of_a_phase_carries_its_lines():
    lines = {row["letter"]: [DATA["safety"][kind] for kind in row["safety"]] for row in DATA["phases"]}
    for step in PureJob(WHOLE).install.in_scope:
        assert set(lines[step.phase]) <= set(step.traits.safety), step.code


def test_the_go_says_again_what_holds_for_live_work():
    go = PureJob(WHOLE).step("go")
    assert {DATA["safety"][kind] for kind in ("live", "battery", "lithium")} <= set(go.traits.safety)


def test_people_come_before_equipment_in_every_text():
    """Where a text says to get out or call 911 and names a switch or bottle, people stand first."""
    from checklists.sheet.words import texts

    said = [*DATA["safety"].values(), *(line for lines in texts().values() for line in lines)]
    for text in said:
        out = re.search(r"(?i)everyone (out|to fresh air)|get out", text)
        if out is None:
            continue
        equipment = re.search(
            r"(?i)battery switch off|close the bottle|LP bottle closed|touch no switch", text
        )
        assert equipment is None or out.start() < equipment.start(), text


@pytest.mark.parametrize("pattern", [r"(?i)\bfeel (the|for)\b", r"(?i)\bwarm it up\b", r"(?i)goes outside"])
def test_nobody_is_told_to_feel_or_move_what_is_hot_or_damaged(pattern):
    from checklists.sheet.words import texts

    said = json.dumps([DATA, texts()], ensure_ascii=False)
    assert not re.search(pattern, said)
    assert "do not touch or move it" in DATA["safety"]["lithium"]


def test_each_person_reads_the_lines_of_a_phase():
    job = PureJob(BATTERY)
    job.record("vehicle_held", "held", "brake")
    assert not any("safety lines" in words for words in sentences(job, "proven_dead"))
    job.record("locked_out", "breakaway", "none", by_name="Tobin Reyes", reads_safety=False)
    assert any("Tobin Reyes" in words and "safety lines" in words for words in sentences(job, "proven_dead"))
    job.read_safety(job.step("locked_out"), "Tobin Reyes", AT)
    assert not any("safety lines" in words for words in sentences(job, "proven_dead"))


# --- letters are for people -------------------------------------------------------------------------------


def test_other_letters_make_the_same_holds_and_locks(tmp_path, monkeypatch):
    """The list under other letters, N to Z for A to M, asks and locks the same steps by their roles."""
    renamed = json.loads(json.dumps(DATA))
    for row in (*renamed["phases"], *renamed["steps"]):
        key = "letter" if "letter" in row else "code"
        row[key] = chr(ord(row[key][0]) + 13) + row[key][1:]
    (tmp_path / "99.json").write_text(json.dumps(renamed), encoding="utf-8")
    monkeypatch.setattr("checklists.plan.templates._DATA", tmp_path)
    ours, theirs = PureJob(WHOLE), PureJob(WHOLE, "99")
    for job in (ours, theirs):
        check_in(job)
    for mine, other in zip(ours.install.in_scope, theirs.install.in_scope, strict=True):
        assert (mine.role, mine.subject, mine.is_hold) == (other.role, other.subject, other.is_hold)
        assert bool(ours.holds.locks(mine)) == bool(theirs.holds.locks(other)), mine.role
        assert mine.traits.safety == other.traits.safety
    passed = [[hold.step.role for hold in job.holds.all() if hold.is_passed] for job in (ours, theirs)]
    assert passed[0] == passed[1] == ["custody", "proven_dead"]


def test_a_whole_job_done_well_passes_every_hold_but_the_signatures(second_list, lena, now):
    complete(second_list, lena, now)
    shut = {hold.step.role for hold in work_of(second_list).holds.all() if not hold.is_passed}
    assert shut == {"sign_off"}


def test_a_longer_home_run_is_told_before_the_first_hole(golden_job, lena, record, now):
    """10.4 m in place of 7.2 m on the same cable: the drop grows with the length, by V = I·R."""
    checklist = open_for(golden_job, now, "2")
    complete(checklist, lena, now, only="AB")
    step = step_of(checklist, "home_run_length", "circuit:C2")
    found = record(checklist, "home_run_length", "run_len_m", 20.8, "circuit:C2").work
    assert any(row.step_id == step.pk for row in found.deviations)
    assert found.holds.locks(found.install.step("feet", "panel:1"))


# --- ways round -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("role", "subject"),
    [("locked_out", ""), ("proven_dead", ""), ("roof_access", ""), ("protection", "circuit:C2"),
     ("alarms_tested", ""), ("go", "")],
)  # fmt: skip
def test_what_keeps_people_safe_always_applies(role, subject):
    assert not any(spec.name == "not_here" for spec in PureJob(WHOLE).step(role, subject).specs)


@pytest.mark.parametrize("scopes", [PANELS, FLEXIBLE, BATTERY, WHOLE, RESEAL])
def test_what_is_live_or_opens_other_work_is_left_out_by_a_lead_only(scopes):
    for step in PureJob(scopes).install.in_scope:
        if step.traits.is_live or step.traits.opens or not step.can_be_overridden:
            assert step.traits.na_needs_lead, step.code


def test_a_technician_does_not_leave_out_the_search_for_shorts():
    job = PureJob(BATTERY)
    check_in(job)
    job.record("no_short", "not_here", "not_in_work", by_role="technician")
    assert job.locks("chassis_bond")
    job.record("no_short", "not_here", "not_in_work", by_role="lead_technician")
    assert not job.locks("chassis_bond")
    job.record("no_short", "lowest_mohm", 0.001)
    assert job.locks("chassis_bond")


def test_a_strict_hold_lets_nothing_of_what_it_looks_at_pass():
    """A short from hot to ground, or a manual that does not say: no owner lets the AC work pass with it."""
    job = PureJob(WHOLE)
    check_in(job)
    job.record("ac_dead_check", "hot_ground", "closed")
    job.record("neutral_kind", "kind", "not_said")
    hold = job.hold("ac_accepted")
    fields = [item for item in hold.items if item.step.role in {"ac_dead_check", "neutral_kind", "ac_wired"}]
    assert fields
    assert not any(item.can_be_overridden for item in fields)
    job.overrides.append(OverrideInfo(hold.step.pk, "Alice Test", "x" * 20, frozenset(i.key for i in fields)))
    assert set(fields) <= set(job.hold("ac_accepted").items)


def test_the_switch_stays_open_over_a_reversed_bank_and_a_bad_precharge():
    job = PureJob(WHOLE)
    needs = {step.role for step in job.holds.needs(job.step("battery_live")).steps}
    assert {"bank_polarity", "precharge"} <= needs
    job.record("bank_polarity", "bank_v", -13.2)
    assert any("Bank polarity" in words or "J1" in words for words in job.locks("battery_live"))


def test_pv_meets_the_controller_after_its_insulation_was_read():
    job = PureJob(PANELS)
    needs = {step.role for step in job.holds.needs(job.step("pv_on", "controller:A")).steps}
    assert "array_insulation" in needs


def test_a_current_that_was_read_is_written_down():
    job = PureJob(PANELS)
    mark = {}
    for how in ("running", "switch", "tester"):
        job.record("string_tests", "isc_how", how, "string:1")
        mark[how] = job.install.mark(job.step("string_tests", "string:1"))["isc_a"].mark
    assert mark == {"running": Mark.BLANK, "switch": Mark.MISSING, "tester": Mark.MISSING}


@pytest.mark.parametrize(("volts", "is_right"), [(45.0, True), (2.0, False), (-45.0, False), (90.0, False)])
def test_a_string_of_45_volts_does_not_read_two_even_where_no_data_sheet_says_more(volts, is_right):
    job = PureJob(PANELS)
    job.record("string_tests", "voc_v", volts, "string:1")
    assert (job.install.mark(job.step("string_tests", "string:1"))["voc_v"].mark is Mark.OK) is is_right
