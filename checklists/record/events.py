"""Stores what a technician records as events: once each, all of a batch or none, then judged anew."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Max

from checklists.models import Checklist, Deviation, Device, Photo, Step, StepEvent
from checklists.record.deviations import deviations_refresh
from checklists.record.kept import kept_write
from checklists.record.progress import job_follows
from checklists.record.read import Work, work_of
from checklists.rules.entries import (
    NOTE_LENGTH,
    VERBS,
    Entry,
    EntryRefused,
    checked_value,
    clean_text,
    spec_named,
)
from checklists.rules.fields import FieldSpec, specs_from_json
from checklists.rules.job_entries import checked_job_value
from checklists.rules.reducer import NOTE, RECORD, SAFETY, UNDO, canonical
from common.told import in_english
from jobs.models import Membership, Shop
from jobs.shop.actor import Actor, name_of
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class RecordRefused(Refusal):
    """Nothing was recorded; says why, and which events cannot be right, if it is for them."""

    def __init__(self, sentence: str, bad: tuple[UUID, ...] = ()) -> None:
        super().__init__(sentence)
        self.bad = bad


@dataclass(frozen=True, slots=True)
class Author:
    """Who did the work, where another person (the owner) records it."""

    user: User
    name: str
    role: str


@dataclass(frozen=True, slots=True)
class Sent:
    """How a batch came: by which tablet, how far its clock is off, and whose work it is."""

    device: Device | None = None
    offset_ms: int | None = None
    author: Author | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """What came of a batch: new events, events we had already, and what the new values made worse."""

    new: tuple[UUID, ...]
    known: tuple[UUID, ...]
    work: Work
    deviations: tuple[Deviation, ...] = field(default=())


@in_english
@transaction.atomic
def events_record(
    *,
    checklist: Checklist,
    entries: Sequence[Entry],
    actor: User,
    at: datetime,
    refuse_locked: bool = False,
    sent: Sent = Sent(),
    seen: Work | None = None,
) -> Recorded:
    """Store a batch of events: all of them or, when one cannot be right, none.

    An event that was stored before is not stored again. Hours and loads stop later than the job: a clock that
    runs while the customer signs is stopped after that. Work recorded without a network is never turned
    away for a lock: whether its step was locked when it was done is told by the order of the work
    (``record/late.py``). A page asks for ``refuse_locked`` and gives what it has ``seen``, so that its
    steps need not be read again.
    """
    locked = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "design", "run")
        .get(pk=checklist.pk)
    )
    membership = require(actor, locked.job.shop, "may_install")
    if not locked.job.is_in_install and any(entry.step for entry in entries):
        raise RecordRefused(
            f"This job is “{locked.job.get_state_display()}”: nothing more is recorded on it."
        )
    _refuse_strangers(sent, locked.job.shop)
    author = sent.author or Author(actor, name_of(actor), membership.role)
    fresh, known, bad = _split(locked, entries)
    steps = {step.pk: step for step in locked.steps.filter(pk__in={entry.step for entry in fresh})}
    rows = _rows(fresh, steps, locked, bad, at)
    bad |= _foreign_photos(locked, rows)
    if bad:
        raise RecordRefused(_bad_words(bad), tuple(bad))
    if not rows:
        return Recorded((), known, work_of(locked))
    before = work_of(locked, before=seen) if refuse_locked else None
    if before:
        _refuse_locked(before, rows)
    _store(locked, rows, author, sent, at)
    work = work_of(locked, before=before)
    if any(row.step_id for row in rows):
        kept_write(work.seen)
    done = _followed(work, rows, known, actor, at)
    for name in ("as_built", "as_built_problem", "plan_svg", "plan_units"):
        setattr(checklist, name, getattr(locked, name))
    return done


def _refuse_strangers(sent: Sent, shop: Shop) -> None:
    """Refuse work that came by another shop's tablet, or is said to be another shop's person's."""
    if sent.device is not None and sent.device.shop_id != shop.pk:
        raise RecordRefused("This tablet belongs to another shop.")
    if sent.author and not Membership.objects.of_shop(shop).filter(user=sent.author.user).exists():
        raise RecordRefused(f"{sent.author.name} does not belong to this shop.")


def _store(checklist: Checklist, rows: Sequence[StepEvent], author: Author, sent: Sent, at: datetime) -> None:
    """Number and store the rows; the lock on the checklist makes numbers follow the order of commits."""
    last = StepEvent.objects.filter(checklist=checklist).aggregate(last=Max("serial"))["last"] or 0
    for serial, row in enumerate(rows, last + 1):
        row.serial, row.received_at = serial, at
        row.by, row.by_name, row.by_role = author.user, author.name, author.role
        row.sent_from, row.offset_ms = sent.device, sent.offset_ms
    try:
        with transaction.atomic():
            StepEvent.objects.bulk_create(rows)
    except IntegrityError:  # the same ids on their way into another job at this moment
        raise RecordRefused("These entries were sent to two jobs at once: send them again.") from None


def _bad_words(bad: Mapping[UUID, str]) -> str:
    """Return the first thing that is wrong, and how many more there are."""
    first, *more = bad.values()
    return f"{first} {len(more)} more of this batch cannot be right." if more else first


def _followed(
    work: Work,
    rows: list[StepEvent],
    known: tuple[UUID, ...],
    actor: Actor,
    at: datetime,
) -> Recorded:
    """Judge the values as built anew, move the job along."""
    touched = {row.step_id for row in rows if row.step_id is not None}
    if not touched:
        return Recorded(tuple(row.pk for row in rows), known, work)
    raised = deviations_refresh(work=work, touched=touched, actor=actor, at=at)
    if raised is not None:
        work = work_of(work.checklist, before=work)
    job_follows(work=work, actor=actor, at=at)
    return Recorded(tuple(row.pk for row in rows), known, work, tuple(raised or ()))


def _split(
    checklist: Checklist, entries: Iterable[Entry]
) -> tuple[list[Entry], tuple[UUID, ...], dict[UUID, str]]:
    """Return the entries that are new, the ids of those we have, and one id used for two things."""
    bad: dict[UUID, str] = {}
    once: dict[UUID, Entry] = {}
    for entry in entries:
        if entry.id in once and _content(once[entry.id]) != _content(entry):
            bad[entry.id] = f"Event {entry.id} came twice with different content."
        once[entry.id] = entry
    stored = {row.pk: row for row in StepEvent.objects.filter(pk__in=once)}
    for row in stored.values():
        if row.checklist_id != checklist.pk or not _is_same(row, once[row.pk]):
            bad[row.pk] = f"Event {row.pk} was used before for something else."
    return [entry for name, entry in once.items() if name not in stored], tuple(stored), bad


def _content(entry: Entry) -> tuple[Any, ...]:
    return (entry.step, entry.verb, entry.field, canonical(entry.value), entry.photo, entry.undoes)


def _is_same(row: StepEvent, entry: Entry) -> bool:
    """Return whether a stored event is this one; the stored value was trimmed when it came in."""
    step, verb, name, _, photo, undoes = _content(entry)
    stored = (row.step_id or 0, row.verb, row.field, row.photo_id, row.undoes)
    if stored != (step, verb, name, photo, undoes):
        return False
    if row.verb == UNDO or row.photo_id is not None:
        return True
    forms = [entry.value, str(entry.value), clean_text(str(entry.value))]
    return canonical(row.value) in {canonical(form) for form in forms}


def _rows(
    entries: Iterable[Entry],
    steps: Mapping[int, Step],
    checklist: Checklist,
    bad: dict[UUID, str],
    at: datetime,
) -> list[StepEvent]:
    """Return the rows to store; what cannot be right is named in ``bad``."""
    rows = []
    value_of = _valuer(steps, checklist)
    for entry in entries:
        try:
            rows.append(_row(entry, value_of(entry), checklist, at))
        except RecordRefused as refusal:
            bad.setdefault(entry.id, str(refusal))
    return rows


def _valuer(steps: Mapping[int, Step], checklist: Checklist) -> Callable[[Entry], Any]:
    """Return how the value of an entry is checked: at its step, or at the job."""

    specs = cache(lambda pk: specs_from_json(steps[pk].fields))

    @cache
    def bounds() -> dict[str, Any]:
        members = Membership.objects.of_shop(checklist.job.shop)
        letters = checklist.steps.order_by().values_list("phase", flat=True).distinct()
        return {"people": set(members.values_list("user_id", flat=True)), "phases": set(letters)}

    def value_of(entry: Entry) -> Any:
        _refuse_later_design(entry, checklist)
        if entry.step:
            return _value(entry, steps.get(entry.step), specs)
        try:
            if entry.verb == UNDO:
                _refuse_blind_undo(entry)
            return checked_job_value(entry, **bounds())
        except EntryRefused as problem:
            raise RecordRefused(str(problem)) from problem

    return value_of


def _row(entry: Entry, value: Any, checklist: Checklist, at: datetime) -> StepEvent:
    """Return the row to store; work without a time of its own counts as done when it came."""
    newest = checklist.design.number
    return StepEvent(
        id=entry.id,
        checklist=checklist,
        step_id=entry.step or None,
        verb=entry.verb,
        field=entry.field,
        value=value,
        unit=entry.unit,
        photo_id=entry.photo,
        undoes=entry.undoes,
        replaces=[str(name) for name in entry.replaces],
        cause=entry.cause.strip(),
        device=entry.device[:64],
        claimed_at=entry.claimed_at or at,
        design_number=entry.design_number or newest,
        sequence=entry.sequence,
    )


def _refuse_later_design(entry: Entry, checklist: Checklist) -> None:
    newest = checklist.design.number
    if entry.design_number is not None and entry.design_number > newest:
        raise RecordRefused(
            f"Design revision {entry.design_number} is not built yet: this job is on {newest}."
        )


def _refuse_blind_undo(entry: Entry) -> None:
    if entry.undoes is None:
        raise RecordRefused("An undo must name what it takes back.")


def _value(entry: Entry, step: Step | None, specs: Callable[[int], tuple[FieldSpec, ...]]) -> Any:
    """Return the value to store; refuse what does not fit the step, whose fields are read once a batch."""
    if step is None:
        raise RecordRefused(f"Step {entry.step} is not a step of this job.")
    if entry.verb not in VERBS:
        raise RecordRefused(f"{entry.verb!r} is nothing that can be done at a step.")
    if entry.verb == UNDO:
        _refuse_blind_undo(entry)
        return None
    if entry.verb == NOTE:
        if not isinstance(entry.value, str) or not entry.value.strip() or len(entry.value) > NOTE_LENGTH:
            raise RecordRefused(f"A note is text of 1 to {NOTE_LENGTH} characters.")
        return clean_text(entry.value)
    if not step.is_in_scope:
        raise RecordRefused(f"{step.code} is not in scope of this job.")
    if entry.verb == SAFETY:
        return _day(entry.value)
    spec = spec_named(specs(step.pk), entry.field)
    if spec is None:
        raise RecordRefused(f"{step.code} has no field “{entry.field}”.")
    if spec.is_photo != (entry.photo is not None):
        raise RecordRefused(f"{spec.label}: {'a photo is needed' if spec.is_photo else 'takes no photo'}.")
    try:
        return checked_value(spec, entry.value, entry.unit)
    except EntryRefused as problem:
        raise RecordRefused(f"{step.code} {problem}") from problem


def _day(value: Any) -> str:
    """Return the day on which safety lines were read."""
    try:
        return date.fromisoformat(value).isoformat()
    except (TypeError, ValueError):
        raise RecordRefused("Safety lines are read on a day like 2027-03-31.") from None


def _foreign_photos(checklist: Checklist, rows: Iterable[StepEvent]) -> dict[UUID, str]:
    """Return the events whose photo is not here."""
    wanted = {row.photo_id for row in rows if row.photo_id}
    have = set(Photo.objects.filter(checklist=checklist, pk__in=wanted).values_list("pk", flat=True))
    says = "A photo has not arrived here yet: send the photo first."
    return {row.pk: says for row in rows if row.photo_id and row.photo_id not in have}


def _refuse_locked(work: Work, rows: Iterable[StepEvent]) -> None:
    infos = {step.pk: step for step in work.install.in_scope}
    for row in rows:
        if row.verb != RECORD:
            continue
        step = infos[row.step_id or 0]
        why = work.holds.locks(step)
        if why:
            raise RecordRefused(f"{step.code} {step.title} is locked: {'; '.join(why)}.")
