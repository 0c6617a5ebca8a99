"""Reads tablets and held work for the owner's pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Count, Q, QuerySet
from django.shortcuts import get_object_or_404

from checklists.models import Device, HeldBatch, Step, StepEvent
from checklists.record.wording import quantity_text
from checklists.rules.entries import Entry, spec_named
from checklists.rules.fields import specs_from_json
from checklists.rules.ink import ink_words, is_ink
from checklists.rules.job_entries import JOB_VERBS, job_words
from checklists.rules.reducer import NOTE, UNDO
from checklists.tablet.wire import read_batch


@dataclass(frozen=True, slots=True)
class HeldLine:
    """One event of a held batch, in words."""

    step: Step | None
    step_pk: int
    what: str
    value: str
    at: datetime | None
    is_here: bool


def device_rows(user: User) -> QuerySet[Device]:
    """Return the shop's tablets, those seen last first, each with its count of held batches that wait."""
    waits = Count("held", filter=Q(held__state=HeldBatch.State.WAITING))
    return Device.objects.visible_to(user).annotate(waiting=waits).order_by("-last_seen_at")


def held_for_page(user: User, pk: int) -> HeldBatch:
    """Return a held batch with its tablet and job, or 404."""
    rows = HeldBatch.objects.visible_to(user).select_related("device", "checklist__job__shop")
    return get_object_or_404(rows, pk=pk)


def held_lines(held: HeldBatch, shop: Any) -> list[HeldLine]:
    """Return what a held batch says, line by line."""
    batch = read_batch(held.body.encode())
    steps = {step.pk: step for step in held.checklist.steps.all()}
    names = [entry.id for entry in batch.entries]
    here = set(StepEvent.objects.filter(pk__in=names).values_list("pk", flat=True))
    shift = timedelta(milliseconds=batch.offset_ms or 0)
    return [
        _line(entry, steps.get(entry.step), shop.units, shift, is_here=entry.id in here)
        for entry in batch.entries
    ]


def _line(entry: Entry, step: Step | None, units: str, shift: timedelta, *, is_here: bool) -> HeldLine:
    spec = None if step is None else spec_named(specs_from_json(step.fields), entry.field)
    at = None if entry.claimed_at is None else entry.claimed_at + shift
    if not entry.step and entry.verb in JOB_VERBS:
        return HeldLine(None, 0, *job_words(entry), at, is_here)
    value = entry.value
    if entry.verb == UNDO:
        words = "takes a value back"
    elif entry.photo is not None:
        words = "photo"
    elif isinstance(value, bool):
        words = "Done" if value else "No"
    elif isinstance(value, int | float):
        words = quantity_text(float(value), spec.unit if spec else "", units) if abs(value) < 1e300 else "?"
    elif is_ink(value):
        words = ink_words(value)[:200]
    elif spec is not None and (spec.choices or spec.lines):
        words = spec.choice_label(value)
    else:
        words = str(value)[:200]
    what = "Note" if entry.verb == NOTE else spec.label if spec is not None else entry.field
    return HeldLine(step, entry.step, what, words, at, is_here)
