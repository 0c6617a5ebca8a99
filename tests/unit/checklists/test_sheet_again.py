"""What was read again, what failed first, the reasons given, and what the owner let stand, on the sheet."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.template.loader import render_to_string

from checklists.record.events import events_record
from checklists.record.override import hold_override
from checklists.record.read import work_of
from checklists.sheet.draft import sheet_draft
from checklists.sheet.words import recorded_rows
from tests.roles import step_of

JOINT = "joint:battery-1"


def test_a_reading_that_failed_first_prints_with_the_one_that_passed(checklist, record, now):
    """The maker asks 9 N·m: 90 is ten times that, 9 is it."""
    record(checklist, "torque", "maker_nm", 9.0, JOINT)
    first = record(checklist, "torque", "plus_nm", 90.0, JOINT)
    later = now + dt.timedelta(minutes=20)
    record(checklist, "torque", "plus_nm", 9.0, JOINT, at=later, replaces=first.new, cause="Work redone")
    (row,) = sheet_draft(checklist).content["read_again"]
    assert row["code"] == step_of(checklist, "torque", JOINT).code
    failed, passed = row["readings"]
    assert (failed["value"], failed["verdict"], failed["stands"]) == (90.0, "block", False)
    assert failed["note"]
    assert (passed["value"], passed["verdict"], passed["stands"]) == (9.0, "pass", True)
    assert passed["reason"] == "Work redone"
    assert (failed["by"], passed["by"]) == ("Bob Test", "Bob Test")


def test_a_value_taken_back_prints_with_who_took_it_back(checklist, record, entry, lena, now):
    first = record(checklist, "rest_volts", "rest_v", 9.0)
    undo = replace(entry(checklist, "rest_volts", "", None), verb="undo", undoes=first.new[0])
    events_record(checklist=checklist, entries=[undo], actor=lena, at=now)
    record(checklist, "rest_volts", "rest_v", 12.6)
    (row,) = sheet_draft(checklist).content["read_again"]
    assert {each["value"]: each["taken_back_by"] for each in row["readings"]} == {9.0: "Lena Test", 12.6: ""}


def test_one_reading_is_not_read_again(checklist, record):
    first = record(checklist, "rest_volts", "rest_v", 12.6)
    record(checklist, "rest_volts", "rest_v", 12.6, replaces=first.new)
    assert sheet_draft(checklist).content["read_again"] == []


def test_the_paper_says_both_readings_and_the_reason(checklist, record, now):
    record(checklist, "torque", "maker_nm", 9.0, JOINT)
    first = record(checklist, "torque", "plus_nm", 90.0, JOINT)
    record(checklist, "torque", "plus_nm", 9.0, JOINT, replaces=first.new, cause="Wrench was set wrong")
    rows = sheet_draft(checklist).content["read_again"]
    page = render_to_string("checklists/sheet/_read_again.html", {"rows": rows, "shop": checklist.job.shop})
    assert "797 in-lb" in page  # 90 N·m × 8.8507 in-lb/N·m
    assert "80 in-lb" in page
    assert "Wrench was set wrong" in page


def test_a_value_the_owner_let_stand_says_who_and_why(checklist, record, alice, now):
    record(checklist, "roof_material", "material", "unknown")
    step = step_of(checklist, "roof_material")
    work = work_of(checklist)
    hold = next(each for each in work.holds.all() for item in each.items if item.step.pk == step.pk)
    units = checklist.job.shop.units
    assert not any("let_stand" in row for row in recorded_rows(work.install, {"roof_material"}, units))
    hold_override(step=work.steps[hold.step.pk], reason="A test patch held for a month", actor=alice, at=now)
    rows = recorded_rows(work_of(checklist).install, {"roof_material"}, units)
    said = {row["let_stand"] for row in rows if row["verdict"] == "block"}
    assert said == {"let stand by Alice Test: “A test patch held for a month”"}
