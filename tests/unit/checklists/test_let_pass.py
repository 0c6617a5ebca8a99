"""What the owner let pass holds for what was there: this value or a better one, and at no strict hold.

Bands are the plan's own (`facts_of`) or written beside the numbers; better and worse are told by hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from checklists.rules.holds import Holds
from checklists.rules.install import DeviationInfo, OverrideInfo
from checklists.rules.reducer import SAFETY
from tests.unit.checklists.pure_job import BATTERY, WHOLE, PureJob

WHY = "The owner looked at it himself."


def let_pass(job: PureJob, role: str) -> None:
    hold = job.hold(role)
    covers = frozenset(item.key for item in hold.items if item.can_be_overridden)
    job.overrides.append(OverrideInfo(hold.step.pk, "Alice Test", WHY, covers))


def said(job: PureJob, role: str, words: str) -> bool:
    return any(words in item.sentence for item in job.hold(role).items)


@pytest.mark.parametrize(
    ("later", "is_let"), [(0.9, True), (0.95, True), (0.89, False), (0.0, False), (5.0, True)]
)
def test_nine_tenths_of_a_megohm_let_pass_are_not_zero(later, is_let):
    """At least 1 Mohm from + to chassis: 0.9 let pass covers 0.9 and 0.95, and nothing below."""
    job = PureJob(BATTERY)
    job.record("no_short", "lowest_mohm", 0.9)
    may = [item for item in job.hold("battery_complete").items if item.step.role == "no_short"]
    assert [item.can_be_overridden for item in may] == [True]
    let_pass(job, "battery_complete")
    assert not [item for item in job.hold("battery_complete").items if item.step.role == "no_short"]
    job.record("no_short", "lowest_mohm", later)
    left = [item for item in job.hold("battery_complete").items if item.step.role == "no_short"]
    assert (left == []) is is_let


@pytest.mark.parametrize(("later", "is_let"), [(15.0, True), (14.9, True), (15.1, False), (11.9, False)])
def test_too_high_let_pass_is_not_higher_nor_too_low(later, is_let):
    """A battery at rest from 12.0 to 14.4 V: 15.0 let pass covers 14.9, not 15.1, and not 11.9."""
    job = PureJob(BATTERY)
    job.record("battery", "rest_v", 15.0, "battery:1")
    let_pass(job, "battery_complete")
    job.record("battery", "rest_v", later, "battery:1")
    step = job.step("battery", "battery:1")
    left = [item for item in job.hold("battery_complete").items if item.step is step and item.failed]
    assert (left == []) is is_let


def test_a_choice_let_pass_is_not_another_choice():
    """The first field of the list with two answers that are both not accepted."""
    job = PureJob(WHOLE)
    looked_at = {step.pk for hold in job.holds.all() for step in job.holds.asks(hold.step)}
    step, spec, (first, second, *_) = next(
        (step, spec, bad)
        for step in job.steps
        for spec in step.specs
        if spec.accept and spec.on_fail == "hold" and step.pk in looked_at
        and step.can_be_overridden and step.is_in_scope
        and len(bad := [key for key, _ in spec.choices if key not in spec.accept]) > 1
    )  # fmt: skip
    hold = next(h for h in job.holds.all() if step in job.holds.asks(h.step))
    job.record(step.role, spec.name, first, step.subject)
    let_pass(job, hold.step.role)
    own = lambda: [i for i in job.hold(hold.step.role).items if i.step is step and i.failed]  # noqa: E731
    assert own() == []
    job.record(step.role, spec.name, second, step.subject)
    assert own()


def test_an_unread_safety_line_is_not_let_pass_at_a_strict_hold():
    job = PureJob(WHOLE)
    job.record("ac_wired", "breaker_a", 15.0, reads_safety=False)
    (item,) = [i for i in job.hold("ac_accepted").items if "has not read the safety lines" in i.sentence]
    assert not item.can_be_overridden
    let_pass(job, "ac_accepted")
    job.overrides.append(OverrideInfo(item.step.pk, "Alice Test", WHY, frozenset({item.key})))
    assert said(job, "ac_accepted", "has not read the safety lines")
    assert not any(event.verb == SAFETY for event in job.events)


def test_a_deviation_is_decided_where_it_stands_and_not_at_a_strict_hold():
    job = PureJob(WHOLE)
    step = job.step("ac_wired")
    job.deviations.append(DeviationInfo(1, step.pk, "T", "Drop went from pass to block.", True, "open", True))
    for role in ("ac_accepted", "go"):
        (item,) = [item for item in job.hold(role).items if item.sentence.startswith("Drop")]
        assert not item.can_be_overridden, role
    accepted = [replace(job.deviations[0], state="accepted", blocks=False)]
    found = Holds(replace(job.install, deviations=tuple(accepted)))
    hold = found.of_step(next(s for s in job.steps if s.role == "ac_accepted"))
    assert not any(item.sentence.startswith("Drop") for item in hold.items)
