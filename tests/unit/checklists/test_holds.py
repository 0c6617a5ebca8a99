"""Hold points: what keeps them shut, in words; what locks a phase; who may let one pass."""

from __future__ import annotations

import uuid

import pytest

from checklists.models import HoldOverride, Step
from checklists.office.overview import change_order_suggestions
from checklists.record.events import RecordRefused, events_record
from checklists.record.override import OverrideRefused, hold_override
from checklists.record.read import work_of
from checklists.record.wording import item_text
from checklists.rules.entries import Entry
from jobs.models import ChangeOrder, Job
from jobs.shop.rights import NotAllowed
from tests.roles import step_of
from tests.unit.checklists.walk import complete

REASON = "Owner looked at it himself, photo in the file"


def hold_of(checklist, role):
    return next(hold for hold in work_of(checklist).holds.all() if hold.step.role == role)


def locks(checklist):
    statuses = work_of(checklist).holds.phase_statuses()
    return {status.letter for status in statuses if status.is_locked}


def change(checklist, now, state="pending", phases="CDEL"):
    return ChangeOrder.objects.create(
        job=checklist.job,
        number=1,
        state=state,
        found_by_name="Bob Test",
        found_at=now,
        cause="Soft wood near the vent",
        locked_phases=list(phases),
    )


def test_a_good_job_opens_every_hold_but_the_signatures(checklist, lena, now):
    complete(checklist, lena, now)
    shut = {hold.step.role for hold in work_of(checklist).holds.all() if not hold.is_passed}
    assert shut == {"sign_off"}
    assert Job.objects.get(pk=checklist.job_id).state == Job.State.CURE_WAIT


def test_a_disputed_number_is_told_in_the_shops_units(checklist, record, bob, lena):
    record(checklist, "torque", "plus_nm", 11.0, "joint:battery-1", actor=bob)
    record(checklist, "torque", "plus_nm", 9.0, "joint:battery-1", actor=lena)
    (item,) = [item for item in hold_of(checklist, "battery_complete").items if item.disputed]
    said = {units: item_text(item, units) for units in ("imperial", "metric")}
    # 1 N·m = 8.85075 in-lb (NIST SP 811, appendix B.8)
    assert all(words in said["imperial"] for words in ("97 in-lb (Bob Test)", "80 in-lb (Lena Test)"))
    assert all(words in said["metric"] for words in ("11 N·m (Bob Test)", "9 N·m (Lena Test)"))


def test_a_fresh_job_is_open_at_its_first_phase_only(checklist):
    assert locks(checklist) == set("BCDEFGHIJKLM")


def test_each_hold_opens_the_next_phase(checklist, lena, now):
    complete(checklist, lena, now, only="A")
    assert locks(checklist) == set("CDEFGHIJKLM")
    complete(checklist, lena, now, only="B")
    assert locks(checklist) == set("DEFGHIJKLM")


def test_a_missing_photo_keeps_custody_shut_in_words(checklist, lena, now):
    complete(checklist, lena, now, only="A", skip=("wiring_before",))
    assert [item.sentence for item in hold_of(checklist, "custody").items] == [
        "Batteries, DC panel, wiring: 6 photos missing",
        "Every lead lettered: missing",
    ]


def test_home_run_has_no_hold_and_still_opens_the_battery(checklist, lena, now):
    complete(checklist, lena, now, only="ABCDE")
    assert {"F", "G"}.isdisjoint(locks(checklist))


def test_what_the_home_run_lacks_keeps_the_go_shut(checklist, lena, now):
    complete(checklist, lena, now, only="ABCDEFGHIJ", skip=("wire_routed",))
    go = hold_of(checklist, "go")
    assert {item.step.role for item in go.items} == {"wire_routed"}


def test_layout_counts_only_from_a_lead(checklist, bob, lena, now):
    complete(checklist, lena, now, only="AB")
    complete(checklist, bob, now, only="C")
    words = [item.sentence for item in hold_of(checklist, "layout_accepted").items]
    assert words == [
        "Layout accepted by the lead technician: counts only from a lead technician or the owner"
    ]


def test_polarity_is_never_let_pass(checklist, lena, alice, record, now):
    complete(checklist, lena, now, only="ABCD")
    complete(checklist, lena, now, only="E", skip=("string_polarity",))
    record(checklist, "string_polarity", "polarity", "correct", "string:1", actor=lena)
    record(checklist, "string_polarity", "voc_v", 47.0, "string:1", actor=lena)
    record(checklist, "string_polarity", "polarity", "reversed", "string:2", actor=lena)
    record(checklist, "string_polarity", "voc_v", -47.0, "string:2", actor=lena)
    hold = hold_of(checklist, "polarity_proven")
    assert not hold.can_be_overridden
    assert any("Reversed" in item.sentence for item in hold.never)
    with pytest.raises(OverrideRefused, match="Nobody can override this: E8"):
        hold_override(step=Step.objects.get(pk=hold.step.pk), reason=REASON, actor=alice, at=now)


@pytest.mark.parametrize("role", ["dead_proof", "polarity_proven", "licensed_person"])
def test_the_holds_that_are_never_overridden(checklist, alice, now, role):
    step = step_of(checklist, role)
    with pytest.raises(OverrideRefused, match="Nobody can override this"):
        hold_override(step=step, reason=REASON, actor=alice, at=now)


def test_g12_may_be_overridden_but_not_for_missing_protection(checklist, lena, alice, now):
    complete(checklist, lena, now, only="ABCDEF")
    complete(checklist, lena, now, only="G", skip=("covers", "protection"))
    step = step_of(checklist, "battery_complete")
    with pytest.raises(OverrideRefused, match="Nobody can override this: G9"):
        hold_override(step=step, reason=REASON, actor=alice, at=now)
    roles = {step.role for step in work_of(checklist).install.of_phase("G")}
    skip = tuple(roles - {"protection"})
    complete(checklist, lena, now, only="G", skip=skip)
    hold_override(step=step, reason=REASON, actor=alice, at=now)
    hold = hold_of(checklist, "battery_complete")
    assert hold.is_overridden
    assert "H" not in locks(checklist)


def test_an_override_covers_what_was_open_and_nothing_later(checklist, lena, alice, record, now):
    complete(checklist, lena, now, only="A", skip=("ceiling_stains",))
    step = step_of(checklist, "custody")
    hold_override(step=step, reason=REASON, actor=alice, at=now)
    assert hold_of(checklist, "custody").is_overridden
    work = work_of(checklist)
    seen = work.install.state(work.install.step("appliances_tried"))["tried"].standing
    undo = Entry(id=uuid.uuid4(), step=seen[0].step, verb="undo", undoes=seen[0].id)
    events_record(checklist=checklist, entries=[undo], actor=lena, at=now)
    hold = hold_of(checklist, "custody")
    assert [item.sentence for item in hold.items] == ["Every light and appliance tried: missing"]


def test_only_the_owner_overrides_and_with_a_reason(checklist, alice, bob, now):
    step = step_of(checklist, "custody")
    with pytest.raises(NotAllowed):
        hold_override(step=step, reason=REASON, actor=bob, at=now)
    with pytest.raises(OverrideRefused, match="at least 15 characters"):
        hold_override(step=step, reason="fine with me", actor=alice, at=now)
    with pytest.raises(OverrideRefused, match="not a hold of this job"):
        hold_override(step=step_of(checklist, "vehicle_identity"), reason=REASON, actor=alice, at=now)
    assert not HoldOverride.objects.exists()


def test_a_passed_hold_needs_no_override(checklist, lena, alice, now):
    complete(checklist, lena, now, only="A")
    with pytest.raises(OverrideRefused, match="Nothing keeps this hold from passing"):
        hold_override(step=step_of(checklist, "custody"), reason=REASON, actor=alice, at=now)


def test_wet_wood_suggests_a_change_order_and_keeps_custody_open(checklist, lena, record, now):
    complete(checklist, lena, now, only="A", skip=("arrival_moisture",))
    record(checklist, "arrival_moisture", "moisture_percent", 27.0, actor=lena)
    record(checklist, "arrival_moisture", "soft", "found", actor=lena)
    found = change_order_suggestions(work_of(checklist))
    assert [step.role for step, _ in found] == ["arrival_moisture", "arrival_moisture"]
    assert "20% or more is wet wood" in found[0][1]
    assert {item.step.role for item in hold_of(checklist, "custody").items} == {
        "arrival_moisture"
    }  # the photo alone
    assert [item.sentence for item in hold_of(checklist, "custody").items] == [
        "Meter at the wettest place: 1 photo missing"
    ]


@pytest.mark.parametrize(("percent", "is_wet"), [(19.9, False), (20.0, True)])
def test_twenty_percent_is_wet(checklist, record, percent, is_wet):
    work = record(checklist, "arrival_moisture", "moisture_percent", percent).work
    assert bool(change_order_suggestions(work)) == is_wet


@pytest.mark.parametrize("state", ["pending", "verbal"])
def test_a_waiting_change_order_locks_the_roof_and_leaves_the_inside_open(
    checklist, lena, record, now, state
):
    complete(checklist, lena, now, only="AB")
    change(checklist, now, state=state)
    assert locks(checklist) >= set("CDEL")
    assert {"F", "G"}.isdisjoint(locks(checklist))
    complete(checklist, lena, now, only="FG")
    with pytest.raises(RecordRefused, match="Change order 1 waits for the customer's signature"):
        complete(checklist, lena, now, only="C")
    assert "J" in locks(checklist)


@pytest.mark.parametrize("state", ["accepted", "declined", "withdrawn"])
def test_an_answered_change_order_locks_nothing(checklist, lena, now, state):
    complete(checklist, lena, now, only="AB")
    change(checklist, now, state=state)
    assert "C" not in locks(checklist)
    assert "F" in locks(checklist)


def test_nothing_is_energised_past_a_roof_that_waited(checklist, lena, now):
    complete(checklist, lena, now, only="AB")
    order = change(checklist, now)
    complete(checklist, lena, now, only="FGHI")
    order.state = ChangeOrder.State.ACCEPTED
    order.save()
    work = work_of(checklist)
    why = work.holds.phase_locks("J")
    assert {work.holds.locks(step) for step in work.install.of_phase("J")} == {why}
    assert why == ("C7 Layout accepted has not passed", "nor have D12, E10")


def test_batteries_that_rest_apart_are_not_joined(checklist, lena, record, now):
    complete(checklist, lena, now, only="ABCDEF")
    complete(checklist, lena, now, only="G", skip=("battery",))
    for number, volts in (("1", 13.20), ("2", 13.21), ("3", 13.27)):
        record(checklist, "battery", "rest_v", volts, f"battery:{number}", actor=lena)
        record(checklist, "battery", "serial", f"S{number}", f"battery:{number}", actor=lena)
    words = [item.sentence for item in hold_of(checklist, "battery_complete").items]
    assert "Batteries rest 0.07 V apart; join them only within 0.05 V" in words


def test_one_serial_for_two_panels_is_noticed(checklist, lena, record, now):
    record(checklist, "panel_serial", "serial", "ab 12", "panel:1", actor=lena)
    record(checklist, "panel_serial", "serial", "AB12", "panel:2", actor=lena)
    words = [item.sentence for item in hold_of(checklist, "polarity_proven").items]
    assert any("Serial AB12 is also recorded at" in sentence for sentence in words)


def test_the_one_who_did_the_work_does_not_look_it_over(checklist, lena, record, now):
    complete(checklist, lena, now, only="ABCDEFGHI")
    complete(checklist, lena, now, only="J", skip=("second_person",))
    record(checklist, "second_person", "second_person", "Lena Test", actor=lena)
    words = [item.sentence for item in hold_of(checklist, "go").items]
    assert "Lena Test did the work: somebody else looks it over" in words


def test_the_job_waits_for_the_cure_once_commissioned(checklist, lena, now):
    complete(checklist, lena, now, only="ABCDEFGHIJK")
    assert Job.objects.get(pk=checklist.job_id).state == Job.State.CURE_WAIT
