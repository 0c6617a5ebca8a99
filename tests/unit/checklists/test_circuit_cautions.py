"""Circuits that are a caution or lack data are accepted at the go, by name, by a lead or the owner."""

from __future__ import annotations

import pytest

from checklists.record.read import work_of
from checklists.rules.cautions import circuit_cautions
from checklists.sheet.draft import sheet_draft

NAMES = ["caution_C10_interrupting", "caution_C11_interrupting", "caution_C3_interrupting"]


def go_items(checklist):
    work = work_of(checklist)
    hold = next(hold for hold in work.holds.all() if hold.step.role == "go")
    return [item.sentence for item in hold.items if "Accept" in item.sentence]


def test_the_go_lists_each_circuit_with_its_caution(second_list):
    """The golden job's C3, C10 and C11 have 3 kA devices where the bank drives 11.62 kA: a caution each."""
    items = go_items(second_list)
    assert [words[:10] for words in items] == ["Accept C10", "Accept C11", "Accept C3,"]
    assert all(words.endswith("caution: missing") for words in items)


def test_a_technicians_word_does_not_count_and_a_leads_does(second_list, record, bob, lena):
    record(second_list, "go", NAMES[2], True, actor=bob)
    assert any("C3" in words and "counts only from a lead" in words for words in go_items(second_list))
    record(second_list, "go", NAMES[2], True, actor=lena)
    assert not any("C3" in words for words in go_items(second_list))
    assert len(go_items(second_list)) == 2


def test_the_owners_word_counts_and_prints_with_name_and_time(second_list, record, alice):
    record(second_list, "go", NAMES[2], True, actor=alice)
    rows = {row["words"][:3]: row for row in sheet_draft(second_list).content["circuits_accepted"]}
    assert (rows["C3,"]["by"], rows["C3,"]["role"]) == ("Alice Test", "owner")
    assert rows["C3,"]["at"] == "Nov 25, 2026, 9:00 AM MST"
    assert "11.62 kA" in rows["C3,"]["sentence"]
    assert rows["C10"]["by"] == ""


def test_a_caution_that_came_with_what_was_built_asks_as_well(second_list, record):
    """C3, planned with 1.2 m, came out as 9 m: its drop grows sevenfold and joins the list."""
    before = set(go_items(second_list))
    record(second_list, "wire_runs", "run_len_m", 9.0, "circuit:C3")
    after = set(go_items(type(second_list).objects.get(pk=second_list.pk)))
    assert before < after
    assert all("C3" in words for words in after - before)


def test_the_first_list_of_steps_goes_on_as_it_was(checklist):
    assert go_items(checklist) == []
    assert sheet_draft(checklist).content["circuits_accepted"] == []


@pytest.mark.parametrize(
    ("verdict", "words"),
    [("caution", "caution"), ("not_enough_data", "not enough data"), ("pass", ""), ("block", "")],
)
def test_cautions_and_missing_data_are_named_nothing_else_is(verdict, words):
    check = {"key": "circuit:C2/drop", "verdict": verdict, "title": "combiner–controller: voltage drop"}
    other = check | {"key": "controller:A/pv_drop"}
    found = [each.words for each in circuit_cautions([check, other])]
    assert found == ([f"C2, combiner–controller: voltage drop: {words}"] if words else [])
