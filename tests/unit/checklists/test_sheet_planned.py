"""A paper does not claim work nobody recorded, and says what was built otherwise, no more."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string

from checklists.sheet.draft import sheet_draft
from tests.unit.checklists.walk import complete


def page(checklist, *names):
    context = {"content": sheet_draft(checklist).content, "shop": checklist.job.shop}
    found = [render_to_string(f"checklists/sheet/_{name}.html", context) for name in names]
    return " ".join(" ".join(found).split())


def test_a_draft_says_planned_everywhere(checklist):
    content = sheet_draft(checklist).content
    assert {row["state"] for row in content["circuits"]} == {"Planned"}
    assert {row["state"] for row in content["strings"]["controllers"]} == {"Planned"}
    assert all(row["is_planned"] for row in content["settings"])
    assert all(row["is_planned"] for row in (*content["holes"]["groups"], *content["seals"]["rows"]))
    assert content["holes"]["is_planned"]
    assert content["key_numbers"]["holes_planned"]
    assert all(line.startswith("Planned: ") for line in content["done"])
    assert content["differs"] == []


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("summary", "Key numbers, planned until recorded"),
        ("summary", "Work, planned until recorded"),
        ("summary", "72 planned"),  # 16 feet × 4 screws + 8 gland screws
        ("roof", "72 planned"),
        ("settings", "Planned, not set yet"),
        ("equipment", "Planned, no serial yet"),
        ("weight", "Overall height as planned"),
        ("record", "Nothing that was recorded differs from the plan."),
    ],
)
def test_the_words_of_a_draft(checklist, name, words):
    assert words in page(checklist, name)


@pytest.mark.parametrize(
    "name", ["summary", "roof", "circuits", "settings", "equipment", "strings", "weight"]
)
def test_a_draft_never_says_as_built(checklist, name):
    assert "as built" not in page(checklist, name).lower()


def test_a_recorded_job_says_no_planned(checklist, lena, now):
    complete(checklist, lena, now)
    content = sheet_draft(checklist).content
    assert not [line for line in content["done"] if line.startswith("Planned")]
    assert not any(row["is_planned"] for row in content["settings"])
    assert not content["holes"]["is_planned"]
    text = page(checklist, "summary", "roof", "seals")
    assert "planned" not in text.lower().replace("as planned", "")
    assert "Key numbers, as built" in text


def test_one_foot_more_is_told_with_both_counts(checklist, record):
    record(checklist, "feet", "feet", 5, "panel:2")
    (row,) = sheet_draft(checklist).content["differs"]
    assert (row["label"], row["planned"], row["built"]) == ("Feet fitted", 4, 5)
    assert "5, planned 4" in page(checklist, "record")


def fresh(checklist):
    return type(checklist).objects.get(pk=checklist.pk)


def test_a_circuit_built_as_planned_differs_in_nothing(two_panel_checklist, record):
    """C2 is planned as 6.1 m, printed as 20.0 ft: 20.0 ft measured is as planned. C3 was not measured."""
    record(two_panel_checklist, "wire_length", "run_len_m", 20.0 * 0.3048, "circuit:C2")
    content = sheet_draft(fresh(two_panel_checklist)).content
    rows = {row["id"]: row for row in content["circuits"]}
    assert (rows["C2"]["state"], rows["C2"]["differs"]) == ("As built", [])
    assert (rows["C3"]["state"], rows["C3"]["differs"]) == ("Planned", [])
    assert not content["circuits_differ"]


def test_another_size_and_fuse_are_told_with_what_was_planned(two_panel_checklist, record):
    """C2 planned with 8 AWG and 35 A: built with 6 AWG and 40 A."""
    record(two_panel_checklist, "wire_size", "size", "6", "circuit:C2")
    record(two_panel_checklist, "protection", "protection", "fitted", "circuit:C2")
    record(two_panel_checklist, "protection", "fuse_a", 40.0, "circuit:C2")
    text = page(fresh(two_panel_checklist), "circuits")
    assert "As built; size 6 AWG, planned 8 AWG" in text
    assert "40 A" in text
    assert text.count("planned") == 2


def test_a_fuse_left_out_says_so(two_panel_checklist, record):
    record(two_panel_checklist, "protection", "protection", "none", "circuit:C11")
    text = page(fresh(two_panel_checklist), "circuits")
    assert "no fuse, planned" in text


def test_a_fuse_the_plan_has_none_of_is_told_as_added(checklist, record):
    """The golden job's strings need no fuse: two strings in parallel cannot overload one."""
    record(checklist, "string_fuse", "fuse", "fitted", "string:1")
    record(checklist, "string_fuse", "fuse_a", 15.0, "string:1")
    rows = [row for row in sheet_draft(fresh(checklist)).content["differs"] if row["unit"] == "A"]
    assert [(row["planned"], row["built"]) for row in rows] == [(None, 15.0)]
    words = page(fresh(checklist), "record").replace('<span class="qty">', "").replace("</span>", "")
    assert "15.0 A, planned none" in words
