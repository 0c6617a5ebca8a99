"""Builds the install overview: phases, locks, holds, what to do next. Decides nothing."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from checklists.models import Deviation
from checklists.record.read import Work
from checklists.rules.holds import Hold, PhaseStatus, cautions
from checklists.rules.install import StepInfo
from checklists.rules.judging import Mark


@dataclass(frozen=True, slots=True)
class StepRow:
    """One line of the overview."""

    step: StepInfo
    state: str  # done, open, failed, caution, conflict, begun, anew
    words: str
    hold: Hold | None = None
    is_table: bool = False  # stands for all steps of its code

    @property
    def icon(self) -> str:
        """Return the shape that goes with the word."""
        return _ICONS[self.state]


_ICONS = {
    "done": "check-lg",
    "open": "chevron-right",
    "begun": "pencil",
    "anew": "arrow-counterclockwise",
    "failed": "x-octagon",
    "conflict": "question-circle",
    "caution": "exclamation-triangle",
    "shut": "lock",
    "passed": "unlock",
    "let": "flag",
}
_WORDS = {
    "done": "done",
    "open": "to do",
    "begun": "begun",
    "anew": "plan changed: look again",
    "failed": "out of band",
    "conflict": "two values",
    "caution": "done, with a caution",
    "shut": "hold not passed",
    "passed": "hold passed",
    "let": "overridden by the owner",
}


@dataclass(frozen=True, slots=True)
class PhaseRows:
    """One phase of the overview."""

    status: PhaseStatus
    rows: tuple[StepRow, ...]
    is_current: bool


def overview(work: Work) -> dict[str, Any]:
    """Return what the overview page prints."""
    statuses = work.holds.phase_statuses()
    current = next((status.letter for status in statuses if not status.is_done and not status.is_locked), "")
    rows = tuple(
        PhaseRows(
            status=status,
            rows=tuple(_rows(work, work.install.of_phase(status.letter))),
            is_current=status.letter == current,
        )
        for status in statuses
    )
    open_deviations = [row for row in work.deviations if row.state == Deviation.State.OPEN]
    return {
        "phases": rows,
        "next_step": (following := next_open_step(work)),
        "next_url": page_of(work, following) if following else "",
        "done": sum(status.done for status in statuses),
        "total": sum(status.total for status in statuses),
        "deviations": [row for row in open_deviations if row.as_built_verdict != "pass"],
        "moved": [row for row in open_deviations if row.as_built_verdict == "pass"],
        "waiting_changes": work.install.waiting_changes,
        "suggestions": change_order_suggestions(work),
        "out_of_scope": tuple(step for step in work.install.steps if not step.is_in_scope),
        "cautions": cautions(work.install),
    }


def _rows(work: Work, steps: tuple[StepInfo, ...]) -> Iterator[StepRow]:
    """Yield the lines of a phase: all steps of a code are one, where the list of the job asks tables."""
    for _, found in itertools.groupby(steps, key=lambda step: step.code):
        own = tuple(found)
        rows = [step_row(work, step) for step in own]
        if work.install.safety_is_ticked or len(own) == 1:
            yield from rows
            continue
        is_open = [row for row in rows if row.state not in _THROUGH]
        worst = min(is_open or rows, key=lambda row: _RANK.index(row.state))
        common = next((step for step in own if not step.subject), own[0])
        count = f", {len(rows) - len(is_open)} of {len(rows)}" if is_open else ""
        hold = next((row.hold for row in rows if row.hold), None)
        yield StepRow(
            replace(common, title=common.title.partition(": ")[0]),
            worst.state,
            f"{worst.words}{count}",
            hold,
            is_table=True,
        )


#: Worst first: what a line that stands for several steps shows.
_RANK = ("conflict", "failed", "shut", "anew", "begun", "open", "caution", "let", "passed", "done")
_THROUGH = frozenset({"caution", "let", "passed", "done"})


def step_row(work: Work, step: StepInfo) -> StepRow:
    """Return one line: state as shape and word."""
    if step.is_hold:
        hold = work.holds.of_step(step)
        state = "let" if hold.is_overridden else "passed" if hold.is_passed else "shut"
        return StepRow(step, state, _WORDS[state], hold)
    mark = work.install.mark(step)
    state = {
        Mark.CONFLICT: "conflict",
        Mark.FAIL: "failed",
        Mark.MISSING: "anew" if work.install.outdated(step) else "begun" if mark.is_begun else "open",
        Mark.CAUTION: "caution",
    }.get(mark.mark, "done")
    return StepRow(step, state, _WORDS[state])


def is_through(work: Work, step: StepInfo) -> bool:
    """Return whether nothing is left to do at a step: a hold passed, the fields of any other."""
    return work.holds.of_step(step).is_passed if step.is_hold else work.install.mark(step).is_done


def next_open_step(work: Work, after: StepInfo | None = None) -> StepInfo | None:
    """Return the next step that is not done and not locked: after this one, else from the beginning."""
    steps = work.install.in_scope
    start = 0 if after is None else next(i for i, step in enumerate(steps) if step is after) + 1
    for step in (*steps[start:], *steps[:start]):
        if not is_through(work, step) and not work.holds.locks(step) and step is not after:
            return step
    return None


def page_of(work: Work, step: StepInfo) -> str:
    """Return the name of the page on which a step is filled in: all steps of a code are one table.

    Lists that tick their safety lines at each step ask them one by one, as they always did.
    """
    is_table = (
        not work.install.safety_is_ticked
        and sum(each.code == step.code for each in work.install.in_scope) > 1
    )
    return "checklists:table_detail" if is_table else "checklists:step_detail"


def change_order_suggestions(work: Work) -> tuple[tuple[StepInfo, str], ...]:
    """Return the findings that call for a change order, while the job has none."""
    if work.change_orders:
        return ()
    return tuple(
        (step, found.sentence)
        for step in work.install.in_scope
        for found in work.install.mark(step).fields
        if found.suggests_change_order
    )
