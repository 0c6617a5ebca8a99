"""Tells every reading that was taken again, first to last: what it was, what was wrong with it, and why."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import Any, Final

from checklists.models import StepEvent
from checklists.record.read import Work, event_of, with_readings
from checklists.record.wording import mark_text
from checklists.rules.fields import PHOTO, TICK
from checklists.rules.install import StepInfo
from checklists.rules.judging import FieldMark, Mark
from checklists.rules.reducer import RECORD, UNDO, FieldState, StepState, canonical
from checklists.sheet.words import printed, verdict_of, when

#: What is only there or not there is not read twice.
_NOT_READ: Final = frozenset({PHOTO, TICK})


def read_again(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each field with more than one reading, its readings in the order they were taken."""
    by_field: dict[tuple[int, str], list[StepEvent]] = defaultdict(list)
    for row in work.events:
        if row.verb == RECORD and row.step_id is not None and row.photo_id is None:
            by_field[row.step_id, row.field].append(row)
    undone = {row.undoes: row for row in work.events if row.verb == UNDO}
    return [
        {"code": step.code, "title": step.title, "label": found.spec.label, "unit": found.spec.unit,
         "readings": [_reading(work, step, found, row, undone.get(row.pk), zone) for row in rows]}
        for step in work.install.in_scope
        for found in work.install.mark(step).fields
        if (rows := _different(by_field.get((step.pk, found.spec.name), [])))
        and found.spec.kind not in _NOT_READ
    ]  # fmt: skip


def _different(rows: list[StepEvent]) -> list[StepEvent]:
    """Return the readings in order, where there are at least two that differ."""
    if len({canonical(row.value) for row in rows}) < 2:
        return []
    return sorted(rows, key=lambda row: (row.done_at, row.serial))


def _reading(
    work: Work, step: StepInfo, found: FieldMark, row: StepEvent, undo: StepEvent | None, zone: str
) -> dict[str, Any]:
    """Return one reading with its verdict, by itself, as if it stood."""
    units = work.checklist.job.shop.units
    then = _as_if(work, step, row)
    is_told = then.mark in {Mark.FAIL, Mark.CAUTION}
    return {
        "value": printed(then),
        "verdict": verdict_of(then.mark),
        "note": mark_text(then, units) if is_told else "",
        "reason": row.cause,
        "by": row.by_name,
        "at": when(row.done_at, zone),
        "received": when(row.received_at, zone) if row.came_late else "",
        "taken_back_by": "" if undo is None else undo.by_name,
        "stands": any(event.id == row.pk for event in found.state.standing),
    }


def _as_if(work: Work, step: StepInfo, row: StepEvent) -> FieldMark:
    state = work.install.whole_state(step)
    fields = {**state.fields, row.field: FieldState((event_of(row),))}
    states = {**work.install.states, step.pk: StepState(fields, state.notes, state.acks)}
    plain = replace(step, since_design=0)  # also a reading from before a change of plan
    steps = tuple(plain if each is step else each for each in work.install.steps)
    then = replace(work.install, steps=steps, states=states)
    return with_readings(then, work.sized).mark(plain)[row.field]
