"""Tells what was recorded while its step was locked, judged in the order of the work whenever it is asked."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from uuid import UUID

from checklists.models import Deviation
from checklists.plan.roles import Role
from checklists.record.read import (
    Work,
    change_info,
    deviation_info,
    override_info,
    placed_of,
    with_readings,
)
from checklists.rules.as_built import as_built_values
from checklists.rules.install import DeviationInfo, Install, WaitingChange
from checklists.rules.work_order import Office, Plan, Span, done_while_locked


def late_records(work: Work, *, only: Collection[int] = ()) -> dict[UUID, tuple[str, ...]]:
    """Return what was recorded while its step was locked, and by what; ``only`` asks of some steps."""
    return done_while_locked(
        work.install,
        placed_of(work.seen),
        _office(work),
        lambda then: _judged(work, then),
        only,
    )


def _office(work: Work) -> Office:
    return Office(
        overrides=tuple(Span(override_info(row), row.at) for row in work.overrides),
        deviations=tuple(_deviations(work)),
        changes=tuple(_changes(work)),
        earlier_plans=tuple(_earlier_plans(work)),
    )


def _deviations(work: Work) -> Iterator[Span[DeviationInfo]]:
    """Yield each deviation that was not resolved by a value, for as long as it was open.

    One that a later value resolved depends on which of the two arrived first, and so locks nothing here.
    """
    for row in work.deviations:
        if row.state != Deviation.State.RESOLVED:
            is_bad = row.as_built_verdict == "block"
            yield Span(replace(deviation_info(row), blocks=is_bad), row.raised_at, row.decided_at)


def _changes(work: Work) -> Iterator[Span[WaitingChange]]:
    for row in work.change_orders:
        if row.locked_phases and (row.is_waiting or row.answered_at is not None):
            until = None if row.is_waiting else row.answered_at
            yield Span(change_info(row), row.sent_at or row.found_at, until)


def _earlier_plans(work: Work) -> Iterator[Plan]:
    if work.checklist.design.number == 1:
        return  # only a later revision takes the place of a plan: nothing to ask the database for
    rows = work.checklist.plan_changes.select_related("from_design")
    for row in sorted(rows, key=lambda row: row.from_design.number):
        yield Plan(row.from_design.number, row.facts_before)


def _judged(work: Work, then: Install) -> Install:
    """Return an earlier state of the install with its readings judged, against the newest sums."""
    problem = work.checklist.as_built_problem
    if problem and as_built_values(then) == work.checklist.as_built:
        then = replace(then, extra={Role.GO: (f"Values as built: {problem}",)})
    return with_readings(then, work.sized)
