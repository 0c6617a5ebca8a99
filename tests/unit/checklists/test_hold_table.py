"""Holds by deviations by persons: what shuts which hold, who may let it pass, whose look counts.

A deviation that blocks shuts the hold of its own phase and the go, and no other. One that was accepted,
resolved or is a caution shuts nothing. Phases without a hold of their own (home run, AC where no licensed
person is asked for) are looked at by the go.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from checklists.models import Deviation
from checklists.record.deviations import DeviationRefused, deviation_accept
from checklists.record.events import events_record
from checklists.record.late import late_records
from checklists.record.override import OverrideRefused, hold_override
from checklists.record.read import work_of
from checklists.rules.holds import Holds, cautions
from checklists.rules.install import DeviationInfo
from checklists.rules.judging import Mark
from jobs.shop.rights import NotAllowed
from tests.roles import step_of
from tests.unit.checklists.walk import complete

REASON = "Owner looked at it himself, photo in the file"
#: The hold that ends each phase, as an installer knows them; home run (F) has none of its own.
HOLD_OF_PHASE = {
    "A": "custody", "B": "dead_proof", "C": "layout_accepted", "D": "seal_count", "E": "polarity_proven",
    "G": "battery_complete", "H": "licensed_person", "I": "sources_safe", "J": "go", "K": "readings_pass",
    "L": "release",
}  # fmt: skip
LETTERS = "ABCDEFGHIJKL"


@pytest.fixture
def done(checklist, lena, now):
    """Return a job on which everything was done well."""
    complete(checklist, lena, now)
    return checklist


def shut(install) -> set[str]:
    """Return the roles of the holds that have not passed, but the signatures."""
    return {hold.step.role for hold in Holds(install).all() if not hold.is_passed} - {"sign_off"}


def deviating(install, step, **more):
    """Return an install with one deviation at a step."""
    values = {"pk": 1, "title": "Drop", "sentence": "6.6% of 3%", "blocks": True, "state": "open"}
    found = DeviationInfo(step=step, can_be_accepted=True, **(values | more))
    return replace(install, deviations=(found,))


@pytest.mark.parametrize("letter", LETTERS)
def test_a_blocking_deviation_shuts_its_own_hold_and_the_go(done, letter):
    install = work_of(done).install
    step = install.of_phase(letter)[0]
    own = {HOLD_OF_PHASE[letter]} if letter in HOLD_OF_PHASE else set()
    assert shut(install) == set()
    assert shut(deviating(install, step.pk)) == own | {"go"}
    assert shut(deviating(install, step.pk, blocks=False)) == set()
    assert shut(deviating(install, step.pk, blocks=False, state="accepted")) == set()


@pytest.mark.parametrize("step", [None, 0])
def test_a_blocking_deviation_of_no_step_shuts_the_go_alone(done, step):
    assert shut(deviating(work_of(done).install, step)) == {"go"}


@pytest.mark.parametrize(
    ("state", "verdict", "blocks"),
    [
        ("open", "block", True),
        ("open", "caution", False),
        ("open", "not_enough_data", False),
        ("open", "pass", False),
        ("accepted", "block", False),
        ("resolved", "block", False),
    ],
)
def test_only_an_open_block_keeps_a_hold_shut(done, now, state, verdict, blocks):
    step = step_of(done, "torque", "joint:battery-1")
    Deviation.objects.create(
        checklist=done, step=step, check_key="bank/x", title="X", planned_verdict="pass",
        as_built_verdict=verdict, sentence="X", state=state, raised_at=now,
    )  # fmt: skip
    assert shut(work_of(done).install) == ({"battery_complete", "go"} if blocks else set())


def test_what_shuts_a_hold_is_told_at_the_step_that_did_it(done):
    install = work_of(done).install
    step = install.step("torque", "joint:battery-1")
    found = Holds(deviating(install, step.pk))
    (item,) = found.of_phase("G").items
    assert (item.step, item.sentence, item.can_be_overridden) == (step, "6.6% of 3%", True)
    echo = next(one for one in found.of_phase("J").items if one.is_echo)
    assert echo.step.role == "battery_complete"


@pytest.mark.parametrize("can_be_accepted", [True, False])
@pytest.mark.parametrize("who", ["alice", "erin", "lena", "bob", "ken", "charlie"])
def test_who_lets_a_deviation_stand_and_which(request, done, now, who, can_be_accepted):
    row = Deviation.objects.create(
        checklist=done, step=step_of(done, "torque", "joint:battery-1"), check_key="bank/x", title="X",
        planned_verdict="pass", as_built_verdict="block", sentence="X", can_be_accepted=can_be_accepted,
        raised_at=now,
    )  # fmt: skip
    person = request.getfixturevalue(who)
    if who == "alice" and can_be_accepted:
        deviation_accept(deviation=row, reason=REASON, actor=person, at=now)
        assert shut(work_of(done).install) == set()
        return
    with pytest.raises(DeviationRefused if who == "alice" else NotAllowed):
        deviation_accept(deviation=row, reason=REASON, actor=person, at=now)
    assert shut(work_of(done).install) == {"battery_complete", "go"}


@pytest.mark.parametrize("can_be_accepted", [True, False])
def test_a_hold_passes_over_a_deviation_only_where_it_may_stand(done, alice, now, can_be_accepted):
    step = step_of(done, "torque", "joint:battery-1")
    Deviation.objects.create(
        checklist=done, step=step, check_key="bank/x", title="X", planned_verdict="pass",
        as_built_verdict="block", sentence="X", can_be_accepted=can_be_accepted, raised_at=now,
    )  # fmt: skip
    hold = step_of(done, "battery_complete")
    if not can_be_accepted:
        with pytest.raises(OverrideRefused, match="Nobody can override this"):
            hold_override(step=hold, reason=REASON, actor=alice, at=now)
        return
    hold_override(step=hold, reason=REASON, actor=alice, at=now)
    found = work_of(done).holds
    assert found.of_phase("G").is_overridden
    assert not found.of_phase("J").is_passed  # the go has its own say


#: On a job where nothing was recorded: what the owner may let pass by name. Polarity, dead proof, what has no
#: protection, an unlicensed AC side, signatures, and a go past holds that are shut are never let pass.
MAY_PASS = {
    "custody": True, "dead_proof": False, "layout_accepted": True, "seal_count": True,
    "polarity_proven": False, "battery_complete": False, "licensed_person": False, "sources_safe": True,
    "go": False, "readings_pass": True, "release": True, "sign_off": False,
}  # fmt: skip


@pytest.mark.parametrize("role", MAY_PASS)
def test_which_holds_the_owner_may_let_pass_and_nobody_else_any(request, checklist, alice, now, role):
    step = step_of(checklist, role)
    for who in ("erin", "lena", "bob", "ken", "charlie"):
        with pytest.raises(NotAllowed):
            hold_override(step=step, reason=REASON, actor=request.getfixturevalue(who), at=now)
    hold = next(one for one in work_of(checklist).holds.all() if one.step.role == role)
    assert hold.can_be_overridden == MAY_PASS[role]
    assert not hold.is_overridden  # nothing was let pass yet
    if MAY_PASS[role]:
        hold_override(step=step, reason=REASON, actor=alice, at=now)
    else:
        with pytest.raises(OverrideRefused, match="Nobody can override this"):
            hold_override(step=step, reason=REASON, actor=alice, at=now)
    holds = work_of(checklist).holds
    passed = {one.step.role for one in holds.all() if one.is_passed}
    assert passed == ({role} if MAY_PASS[role] else set())
    assert {one.step.role for one in holds.all() if one.is_overridden} == passed


def test_a_hold_that_passed_by_itself_is_not_called_overridden(done):
    assert not any(hold.is_overridden for hold in work_of(done).holds.all() if hold.is_passed)


@pytest.mark.parametrize("without", ["F", "FH"])
def test_phases_of_which_nothing_is_in_scope_are_not_told(done, without):
    """A job that leaves phases out has none of them in its list, and is not held up by them."""
    install = work_of(done).install
    steps = tuple(
        replace(step, is_in_scope=False) if step.phase in without else step for step in install.steps
    )
    holds = Holds(replace(install, steps=steps))
    letters = [status.letter for status in holds.phase_statuses()]
    assert letters == [letter for letter in "ABCDEFGHIJKLM" if letter not in without]


# --- the second look ----------------------------------------------------------------------------------------


def by_person(install, hands: dict[str, str], second: str):
    """Return an install as if each phase had been worked by who is named, and looked over by ``second``."""
    phase_of = {step.pk: step.phase for step in install.steps}
    own = install.step("second_person").pk
    states = {}
    for pk, state in install.states.items():
        fields = {}
        for name, found in state.fields.items():
            who = hands.get(phase_of[pk], "Lena Test")
            standing = tuple(
                replace(event, by_name=who, value=second)
                if pk == own and name == "second_person"
                else replace(event, by_name=who)
                for event in found.standing
            )
            fields[name] = replace(found, standing=standing)
        states[pk] = replace(state, fields=fields)
    return replace(install, states=states)


BOB, LENA = "Bob Test", "Lena Test"


@pytest.mark.parametrize(
    ("inside", "second", "is_refused"),
    [
        ({"F": BOB, "G": BOB, "H": BOB}, BOB, True),
        ({"F": BOB, "G": BOB, "H": BOB}, " bob test ", True),
        ({"F": BOB, "G": BOB, "H": BOB}, LENA, False),  # she worked on the roof only
        ({"F": LENA, "G": BOB, "H": BOB}, BOB, False),  # two pairs of eyes were inside
        ({"F": BOB, "G": LENA, "H": BOB}, BOB, False),
        ({"F": BOB, "G": BOB, "H": LENA}, BOB, False),
        ({"F": BOB, "G": BOB, "H": BOB}, "Tess Second", False),
    ],
)
def test_the_second_look_is_another_pair_of_eyes_than_wired_inside(done, inside, second, is_refused):
    """Home run, battery and inverter are what can burn: who did all of that alone does not look it over."""
    holds = Holds(by_person(work_of(done).install, inside, second))
    words = [item.sentence for item in holds.of_phase("J").items if item.step.role == "second_person"]
    assert bool(words) == is_refused
    assert holds.of_phase("J").is_passed == (not is_refused)


# --- what is told -------------------------------------------------------------------------------------------


def test_only_what_a_caution_was_raised_for_is_among_the_cautions(done):
    install = work_of(done).install
    told = cautions(install)
    marks = [(step, one) for step in install.in_scope for one in install.mark(step).fields]
    assert [(step, words) for step, words in told] == [
        (step, one.sentence) for step, one in marks if one.mark is Mark.CAUTION
    ]
    assert all(words for _, words in told)
    assert len(told) < 10  # of several hundred fields of a good job


def test_only_disputed_values_are_told_as_disputed(checklist, record, bob, lena):
    record(checklist, "torque", "plus_nm", 11.0, "joint:battery-1", actor=bob)
    record(checklist, "torque", "plus_nm", 9.0, "joint:battery-1", actor=lena)
    items = [item for hold in work_of(checklist).holds.all() for item in hold.items]
    disputed = [item for item in items if item.disputed is not None]
    assert {item.disputed.spec.name for item in disputed} == {"plus_nm"}
    assert {item.step.subject for item in disputed} == {"joint:battery-1"}
    assert len(items) > len(disputed)


def test_a_lead_among_those_who_ticked_is_enough(checklist, lena, bob, entry, now):
    """Two people tick the same; one is a lead: the layout counts."""
    complete(checklist, lena, now, only="AB")
    complete(checklist, bob, now, only="C")
    assert not work_of(checklist).holds.of_phase("C").is_passed
    again = entry(checklist, "layout_accepted", "accepted", True)
    events_record(checklist=checklist, entries=[again], actor=lena, at=now)
    assert work_of(checklist).holds.of_phase("C").is_passed


# --- what comes late ----------------------------------------------------------------------------------------


def test_only_what_came_into_a_locked_phase_is_marked_so(checklist, entry, bob, now):
    """A batch with work of an open phase, of a locked one, a note and an undo: one row of them is late."""
    early = entry(checklist, "rest_volts", "rest_v", 12.6)
    events_record(checklist=checklist, entries=[early], actor=bob, at=now)
    open_now = entry(checklist, "arrival_moisture", "moisture_percent", 12.0)
    late = entry(checklist, "frames_bonded", "resistance_ohm", 0.05)
    note = replace(entry(checklist, "frames_bonded", "", "Bolt was loose"), verb="note")
    undo = replace(entry(checklist, "frames_bonded", "", None), verb="undo", undoes=early.id)
    done = events_record(checklist=checklist, entries=[open_now, late, note, undo], actor=bob, at=now)
    assert set(late_records(done.work)) == {late.id}
    later = events_record(
        checklist=checklist, entries=[entry(checklist, "rest_volts", "soc_percent", 80)], actor=bob, at=now
    )
    assert set(late_records(later.work)) == {late.id}


def test_an_undo_in_a_locked_phase_locks_no_value_of_it(checklist, entry, bob, now):
    late = entry(checklist, "frames_bonded", "resistance_ohm", 0.05)
    events_record(checklist=checklist, entries=[late], actor=bob, at=now)
    undo = replace(entry(checklist, "frames_bonded", "", None), verb="undo", undoes=late.id)
    done = events_record(checklist=checklist, entries=[undo], actor=bob, at=now)
    assert set(late_records(done.work)) == {late.id}  # the value was; taking it back is no work in it


def test_a_value_that_changes_the_sums_is_in_the_answer_at_once(checklist, entry, bob, now):
    """What the batch raised keeps its hold shut in the work that is handed back, late or not."""
    made = entry(checklist, "protection", "protection", "none", "circuit:C3")
    done = events_record(checklist=checklist, entries=[made], actor=bob, at=now)
    assert any(row.blocks for row in done.deviations)
    assert [row.pk for row in done.work.deviations] == [row.pk for row in work_of(checklist).deviations]


def test_a_phase_counts_its_steps_and_its_hold_as_done(checklist, lena, now):
    """Of the arrival one step is left out: all the others are done, its hold is not."""
    complete(checklist, lena, now, only="A", skip=("ceiling_stains",))
    work = work_of(checklist)
    arrival, dead = work.holds.phase_statuses()[:2]
    assert arrival.total == len(work.install.of_phase("A"))
    assert arrival.done == arrival.total - 2  # the step, and the hold that waits for it
    assert (dead.done, dead.is_done, arrival.is_done) == (0, False, False)
    complete(checklist, lena, now, only="A")
    again = work_of(checklist).holds.phase_statuses()[0]
    assert (again.done, again.is_done) == (again.total, True)
