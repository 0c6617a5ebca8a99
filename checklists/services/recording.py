"""Knows how what a technician records becomes events: once each, all of a batch or none, then judged anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from checklists.entries import NOTE_LENGTH, VERBS, Entry, EntryRefused, checked_value, spec_named
from checklists.models import Checklist, Deviation, Photo, Step, StepEvent
from checklists.reducer import NOTE, RECORD, UNDO, canonical
from checklists.selectors.install import Work, step_info, work_of
from checklists.services.deviations import deviations_refresh
from checklists.services.progress import job_follows
from jobs.models import Membership
from jobs.services.log import name_of
from jobs.services.refusals import Refusal
from jobs.services.rights import require

#: More events than this in one batch are sent in several. [-]
BATCH_LIMIT = 1000


class RecordRefused(Refusal):
    """Nothing was recorded; says why."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """What came of a batch: new events, events we had already, and what the new values made worse."""

    new: tuple[UUID, ...]
    known: tuple[UUID, ...]
    work: Work
    deviations: tuple[Deviation, ...] = field(default=())


@transaction.atomic
def events_record(
    *,
    checklist: Checklist,
    entries: Sequence[Entry],
    actor: Any,
    at: datetime,
    refuse_locked: bool = False,
) -> Recorded:
    """Store a batch of events: all of them or, when one cannot be right, none.

    An event that was stored before is not stored again. Work recorded without a network is never turned
    away for a lock that came meanwhile: it is stored with a mark. A page asks for ``refuse_locked``.
    """
    locked = (
        Checklist.objects.select_for_update()
        .select_related("job__shop", "design", "run")
        .get(pk=checklist.pk)
    )
    membership = require(actor, locked.job.shop, "may_install")
    if not locked.job.is_in_install:
        raise RecordRefused(
            f"This job is “{locked.job.get_state_display()}”: nothing more is recorded on it."
        )
    if len(entries) > BATCH_LIMIT:
        raise RecordRefused(f"At most {BATCH_LIMIT} events at a time, got {len(entries)}.")
    fresh, known = _split(locked, entries)
    if not fresh:
        return Recorded((), known, work_of(locked))
    steps = {step.pk: step for step in locked.steps.all()}
    rows = [_row(entry, steps, locked, membership, actor, at) for entry in fresh]
    _refuse_foreign_photos(locked, rows)
    if refuse_locked:
        _refuse_locked(work_of(locked), rows, steps)
    StepEvent.objects.bulk_create(rows)
    done = _followed(locked, rows, steps, known, actor, at)
    for name in ("as_built", "as_built_problem", "plan_svg", "plan_units"):
        setattr(checklist, name, getattr(locked, name))
    return done


def _followed(
    checklist: Checklist,
    rows: list[StepEvent],
    steps: Mapping[int, Step],
    known: tuple[UUID, ...],
    actor: Any,
    at: datetime,
) -> Recorded:
    """Mark what came into a locked phase, judge the values as built anew, move the job along."""
    work = work_of(checklist)
    letters = {steps[row.step_id].phase for row in rows if row.verb == RECORD}
    late = {letter for letter in letters if work.holds.locks(letter)}
    late_rows = [row.pk for row in rows if row.verb == RECORD and steps[row.step_id].phase in late]
    if late_rows:
        StepEvent.objects.filter(pk__in=late_rows).update(was_locked=True)
    raised = deviations_refresh(work=work, touched={row.step_id for row in rows}, actor=actor, at=at)
    if raised is not None or late_rows:
        work = work_of(checklist)
    job_follows(work=work, actor=actor, at=at)
    return Recorded(tuple(row.pk for row in rows), known, work, tuple(raised or ()))


def _split(checklist: Checklist, entries: Iterable[Entry]) -> tuple[list[Entry], tuple[UUID, ...]]:
    """Return the entries that are new, and the ids of those we have; refuse one id used for two things."""
    once: dict[UUID, Entry] = {}
    for entry in entries:
        if entry.id in once and _content(once[entry.id]) != _content(entry):
            raise RecordRefused(f"Event {entry.id} came twice with different content.")
        once[entry.id] = entry
    stored = {row.pk: row for row in StepEvent.objects.filter(pk__in=once).select_related("step")}
    for row in stored.values():
        entry = once[row.pk]
        same = (row.step_id, row.verb, row.field, canonical(row.value), row.photo_id, row.undoes)
        if row.step.checklist_id != checklist.pk or same != _content(entry):
            raise RecordRefused(f"Event {row.pk} was used before for something else.")
    return [entry for name, entry in once.items() if name not in stored], tuple(stored)


def _content(entry: Entry) -> tuple[Any, ...]:
    return (entry.step, entry.verb, entry.field, canonical(entry.value), entry.photo, entry.undoes)


def _row(
    entry: Entry,
    steps: Mapping[int, Step],
    checklist: Checklist,
    membership: Membership,
    actor: Any,
    at: datetime,
) -> StepEvent:
    step = steps.get(entry.step)
    if step is None:
        raise RecordRefused(f"Step {entry.step} is no step of this job.")
    return StepEvent(
        id=entry.id,
        step=step,
        verb=entry.verb,
        field=entry.field,
        value=_value(entry, step),
        unit=entry.unit,
        photo_id=entry.photo,
        undoes=entry.undoes,
        replaces=[str(name) for name in entry.replaces],
        cause=entry.cause.strip(),
        by=actor,
        by_name=name_of(actor),
        by_role=membership.role,
        device=entry.device[:64],
        claimed_at=entry.claimed_at or at,
        received_at=at,
        design_number=entry.design_number or checklist.design.number,
    )


def _value(entry: Entry, step: Step) -> Any:
    """Return the value to store; refuse what does not fit the step."""
    if entry.verb not in VERBS:
        raise RecordRefused(f"{entry.verb!r} is nothing that can be done at a step.")
    if entry.verb == UNDO:
        if entry.undoes is None:
            raise RecordRefused("An undo must name what it takes back.")
        return None
    if entry.verb == NOTE:
        if not isinstance(entry.value, str) or not entry.value.strip() or len(entry.value) > NOTE_LENGTH:
            raise RecordRefused(f"A note is text of 1 to {NOTE_LENGTH} characters.")
        return entry.value.strip()
    if not step.is_in_scope:
        raise RecordRefused(f"{step.code} is not in scope of this job.")
    spec = spec_named(step_info(step).specs, entry.field)
    if spec is None:
        raise RecordRefused(f"{step.code} has no field “{entry.field}”.")
    if spec.is_photo != (entry.photo is not None):
        raise RecordRefused(f"{spec.label}: {'a photo is needed' if spec.is_photo else 'takes no photo'}.")
    try:
        return checked_value(spec, entry.value, entry.unit)
    except EntryRefused as problem:
        raise RecordRefused(f"{step.code} {problem}") from problem


def _refuse_foreign_photos(checklist: Checklist, rows: Iterable[StepEvent]) -> None:
    wanted = {row.photo_id for row in rows if row.photo_id}
    if wanted:
        have = set(Photo.objects.filter(checklist=checklist, pk__in=wanted).values_list("pk", flat=True))
        if wanted - have:
            raise RecordRefused("A photo has not arrived here yet: send the photo first.")


def _refuse_locked(work: Work, rows: Iterable[StepEvent], steps: Mapping[int, Step]) -> None:
    for row in rows:
        if row.verb != RECORD:
            continue
        why = work.holds.locks(steps[row.step_id].phase)
        if why:
            raise RecordRefused(f"Phase {steps[row.step_id].phase} is locked: {'; '.join(why)}.")
