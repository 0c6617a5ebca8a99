"""Values as built re-run the sums at once: what got worse, the ways out, and what may be let stand.

The longer path: 2 × 10.4 m × 19.6 A × 3.277 mΩ/m = 1.336 V of 20.4 V = 6.55 % on 10 AWG; resistances of solid
copper at 20 °C computed from the AWG diameters of ASTM B258 and 1/58 Ω·mm²/m of IEC 60028. The 3 % limit is
ABYC E-11 for critical circuits.
"""

from __future__ import annotations

import uuid

import pytest

from checklists.models import Deviation
from checklists.record.circuits import circuit_rows
from checklists.record.deviations import DeviationRefused, deviation_accept
from checklists.record.events import events_record
from checklists.record.read import work_of
from checklists.rules.entries import Entry
from jobs.models import SizingRun
from jobs.shop.rights import NotAllowed
from tests.roles import code_of, step_of

REASON = "Customer agreed on the phone, see note"


@pytest.fixture
def longer(two_panel_checklist, entry, bob, now):
    """Return the two-panel install after a 10.4 m path and 10 AWG were entered."""
    entries = [
        entry(two_panel_checklist, "wire_length", "run_len_m", 10.4, "circuit:C2"),
        entry(two_panel_checklist, "wire_size", "size", "10", "circuit:C2"),
    ]
    done = events_record(checklist=two_panel_checklist, entries=entries, actor=bob, at=now)
    return two_panel_checklist, done


def drop_of(checklist) -> Deviation:
    return checklist.deviations.filter(state="open").get(check_key="circuit:C2/drop")


def test_a_longer_path_on_a_thinner_wire_is_told_at_once(longer):
    checklist, done = longer
    row = drop_of(checklist)
    assert row in done.deviations
    assert row.planned_value == pytest.approx(0.0241, abs=0.0005)
    assert row.as_built_value == pytest.approx(0.0655, abs=0.0005)
    assert row.limit == pytest.approx(0.03)
    assert "6.55%" in row.sentence
    assert "limit 3%" in row.sentence
    assert row.step.code in {code_of(row.checklist, role) for role in ("wire_length", "wire_size")}


def test_the_ways_out_are_listed_with_what_they_give(longer):
    options = drop_of(longer[0]).options
    by_words = {option["words"]: option for option in options}
    drops = {
        words: round(option["drop_fraction"] * 100, 2)
        for words, option in by_words.items()
        if "drop_fraction" in option
    }
    assert next(v for k, v in drops.items() if k.startswith("Use 8 AWG")) == pytest.approx(4.12, abs=0.05)
    assert next(v for k, v in drops.items() if k.startswith("Use 6 AWG")) == pytest.approx(2.59, abs=0.05)
    restring = next(option for words, option in by_words.items() if words.startswith("Re-string 2S1P"))
    assert restring["drop_fraction"] * 100 == pytest.approx(1.64, abs=0.05)
    assert restring["reopens_strings"]


def test_the_accepted_sums_stay_as_accepted(longer):
    checklist, _ = longer
    planned = {row["id"]: row for row in checklist.run.result["circuits"]}
    assert planned["C2"]["run_len_m"] == 6.1
    built = SizingRun.objects.filter(design=checklist.design, purpose="as_built").get()
    assert {row["id"]: row for row in built.result["circuits"]}["C2"]["run_len_m"] == 10.4


def test_later_edits_of_survey_and_catalogue_change_no_sum_as_built(checklist, record):
    """What was accepted is what was surveyed then: the as-built sums differ by the reported value alone."""
    survey, design = checklist.job.survey, checklist.design
    plan_before = checklist.plan_svg
    survey.tmin_travel_c = survey.tmin_storage_c = -45.0
    survey.tmax_c, survey.roof_length_m, survey.autonomy_days = 55.0, 3.0, 5.0
    survey.save()
    survey.obstacles.update(x_m=0.0, y_m=0.0, length_m=3.0)
    survey.loads.update(power_w=900.0)
    for panel in design.panels.all():
        type(panel.part.panel_sheet).objects.update(voc_v=80.0, length_m=2.9)
    record(checklist, "wire_length", "run_len_m", 6.0, "circuit:C2")
    checklist.refresh_from_db()
    built = SizingRun.objects.filter(design=design, purpose="as_built").get()
    planned = checklist.run.inputs
    differ = {name for name in planned if planned[name] != built.inputs[name]}
    assert differ <= {"circuits", "guesses", "settled_paths"}
    touched = {row.check_key.partition("/")[0] for row in checklist.deviations.all()}
    assert touched <= {"circuit:C2", "controller:A"}  # the path's loss is part of the controller's window
    assert [c for c in built.result["checks"] if c["rule"].startswith("layout_")] == [
        c for c in checklist.run.result["checks"] if c["rule"].startswith("layout_")
    ]
    assert checklist.plan_svg.replace("-built", "") == plan_before


def test_a_right_value_later_resolves_it(longer, record):
    checklist, _ = longer
    work = work_of(checklist)
    step = work.install.step("wire_size", "circuit:C2")
    seen = tuple(event.id for event in work.install.state(step)["size"].standing)
    record(checklist, "wire_size", "size", "6", "circuit:C2", replaces=seen)
    states = set(
        checklist.deviations.filter(check_key="circuit:C2/drop", as_built_verdict="caution").values_list(
            "state", flat=True
        )
    )
    assert states == {"resolved"}


def test_an_undone_value_brings_the_plan_back(checklist, record, bob, now):
    done = record(checklist, "wire_length", "run_len_m", 14.0, "circuit:C2")
    assert done.deviations
    step = step_of(checklist, "wire_length", "circuit:C2").pk
    undo = Entry(id=uuid.uuid4(), step=step, verb="undo", undoes=done.new[0])
    events_record(checklist=checklist, entries=[undo], actor=bob, at=now)
    assert not checklist.deviations.exclude(state="resolved").exists()
    checklist.refresh_from_db()
    assert checklist.as_built == {}


def test_a_fuse_larger_than_the_wire_is_never_let_stand(checklist, record, alice, now):
    record(checklist, "protection", "fuse_a", 60.0, "circuit:C2")
    row = checklist.deviations.get(check_key="circuit:C2/ocpd_cable")
    assert row.as_built_verdict == "block"
    assert not row.can_be_accepted
    with pytest.raises(DeviationRefused, match="cannot be accepted"):
        deviation_accept(deviation=row, reason=REASON, actor=alice, at=now)


def test_no_protection_blocks_the_go(checklist, record):
    record(checklist, "protection", "protection", "none", "circuit:C3")
    row = checklist.deviations.get(check_key="circuit:C3/protection")
    assert row.blocks
    assert not row.can_be_accepted
    go = next(hold for hold in work_of(checklist).holds.all() if hold.step.role == "go")
    assert any(item.sentence == row.sentence and not item.can_be_overridden for item in go.items)


def test_the_main_fuse_too_far_from_the_post_holds(checklist, record):
    record(checklist, "main_fuse", "sheathed", "no", "circuit:C4")
    record(checklist, "main_fuse", "distance_mm", 300.0, "circuit:C4")
    row = checklist.deviations.get(check_key="circuit:C4/ocpd_distance", state="open")
    assert row.as_built_verdict == "caution"  # ABYC E-11: 7 in (178 mm) bare; RV makers print 18 in (457 mm)
    work = work_of(checklist)
    step = work.install.step("main_fuse", "circuit:C4")
    seen = tuple(event.id for event in work.install.state(step)["distance_mm"].standing)
    record(checklist, "main_fuse", "distance_mm", 500.0, "circuit:C4", replaces=seen)
    row = checklist.deviations.get(check_key="circuit:C4/ocpd_distance", state="open")
    assert row.as_built_verdict == "block"
    work = work_of(checklist)
    step = work.install.step("main_fuse", "circuit:C4")
    seen = tuple(event.id for event in work.install.state(step)["sheathed"].standing)
    record(checklist, "main_fuse", "sheathed", "yes", "circuit:C4", replaces=seen)
    open_rows = checklist.deviations.filter(check_key="circuit:C4/ocpd_distance", state="open")
    assert [row.as_built_verdict for row in open_rows] == ["pass"]  # told as moved, keeps nothing shut


def test_the_owner_lets_one_stand_with_a_reason(longer, alice, bob, now):
    checklist, _ = longer
    row = drop_of(checklist)
    with pytest.raises(NotAllowed):
        deviation_accept(deviation=row, reason=REASON, actor=bob, at=now)
    with pytest.raises(DeviationRefused, match="at least 15 characters"):
        deviation_accept(deviation=row, reason="ok", actor=alice, at=now)
    deviation_accept(deviation=row, reason=REASON, actor=alice, at=now)
    row.refresh_from_db()
    assert (row.state, row.decided_by_name, row.decision) == ("accepted", "Alice Test", REASON)
    with pytest.raises(DeviationRefused, match="already “Accepted by owner”"):
        deviation_accept(deviation=row, reason=REASON, actor=alice, at=now)


def test_an_accepted_one_stands_until_the_value_moves(longer, record, alice, now):
    checklist, _ = longer
    deviation_accept(deviation=drop_of(checklist), reason=REASON, actor=alice, at=now)
    record(checklist, "wire_length", "run_len_m", 2.4, "circuit:C1")  # something else was measured
    assert checklist.deviations.filter(check_key="circuit:C2/drop", state="accepted").count() == 1
    work = work_of(checklist)
    step = work.install.step("wire_length", "circuit:C2")
    seen = tuple(event.id for event in work.install.state(step)["run_len_m"].standing)
    record(checklist, "wire_length", "run_len_m", 12.0, "circuit:C2", replaces=seen)
    assert checklist.deviations.filter(check_key="circuit:C2/drop", state="accepted").count() == 0
    assert drop_of(checklist).as_built_value > 0.0655


def test_half_a_string_plan_is_not_worked_out(checklist, record):
    record(checklist, "strings_built", "ns", 4)
    checklist.refresh_from_db()
    assert "strings.ns" not in checklist.as_built


def test_four_in_series_blocks_on_this_controller(checklist, entry, bob, now):
    entries = [entry(checklist, "strings_built", "ns", 4), entry(checklist, "strings_built", "np", 1)]
    events_record(checklist=checklist, entries=entries, actor=bob, at=now)
    row = checklist.deviations.get(check_key="controller:A/cold_voc")
    assert row.as_built_verdict == "block"
    assert row.step.code == code_of(row.checklist, "strings_built")


def test_counts_that_do_not_use_all_panels_keep_the_record_and_say_why(checklist, entry, bob, now):
    entries = [entry(checklist, "strings_built", "ns", 3), entry(checklist, "strings_built", "np", 1)]
    events_record(checklist=checklist, entries=entries, actor=bob, at=now)
    checklist.refresh_from_db()
    assert "does not use the 4 panels" in checklist.as_built_problem
    go = next(hold for hold in work_of(checklist).holds.all() if hold.step.role == "go")
    assert any("does not use the 4 panels" in item.sentence for item in go.items)


def test_a_length_typed_as_it_was_shown_is_as_planned(two_panel_checklist, record):
    record(
        two_panel_checklist, "wire_length", "run_len_m", 20.0 * 0.3048, "circuit:C2"
    )  # 6.1 m is shown as 20.0 ft
    record(
        two_panel_checklist, "wire_length", "run_len_m", 4.1 * 0.3048, "circuit:C3"
    )  # 1.2 m is shown as 3.9 ft
    found = type(two_panel_checklist).objects.get(pk=two_panel_checklist.pk)
    changed = {row["row"].id: row["changed"] for row in circuit_rows(work_of(found)) if row["reported"]}
    assert changed == {"C2": [], "C3": ["length"]}
