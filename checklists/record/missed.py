"""Reads what a tablet has missed: every event after the last one it has seen."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from checklists.models import Checklist, HoldOverride, ShopText, StepEvent, SumsTable
from checklists.record.contacts import contacts
from checklists.record.read import work_of
from jobs.models import ChangeOrder


def events_after(checklist: Checklist, after: int) -> dict[str, Any]:
    """Return the events numbered above ``after``, in the order they were stored, and where to go on from.

    Numbers are given out under the checklist's lock: whoever sees one has seen, or can see, all below it,
    however commits overlap. A cursor from beyond our last event (this database is a restored copy) starts
    anew: events have ids, so that seeing one twice does no harm. No transaction: on SQLite it would hold up
    whoever writes, and one query is consistent in itself.
    """
    rows = StepEvent.objects.filter(checklist=checklist).select_related("sent_from")
    rows = rows.order_by("serial")
    if after and not rows.filter(serial=after).exists():
        after = 0
    found = list(rows.filter(serial__gt=after))
    since = dict(checklist.steps.exclude(since_design=0).values_list("pk", "since_design"))
    install = work_of(checklist).install if since else None
    return {
        "events": [event_json(row) for row in found],
        "cursor": str(found[-1].serial if found else after),
        "design_number": checklist.design.number,
        "stamp": stamp(checklist),
        "reopened": [step.pk for step in install.in_scope if install.is_reopened(step)] if install else [],
        "since_design": since,
    }


def stamp(checklist: Checklist) -> str:
    """Return a short text that changes when the office decided something a tablet should fetch anew."""
    job = checklist.job
    decided = [
        list(HoldOverride.objects.filter(step__checklist=checklist).values_list("pk", flat=True)),
        list(checklist.deviations.order_by("pk").values_list("pk", "state")),
        list(ChangeOrder.objects.filter(job=job).order_by("pk").values_list("pk", "state")),
        list(SumsTable.objects.filter(checklist=checklist).values_list("made_for", flat=True)),
        contacts(job, checklist.design),
        list(ShopText.objects.of_shop(job.shop).order_by("pk").values_list("language", "source", "text")),
        [checklist.design.number, job.state, checklist.as_built_problem, checklist.template_version],
    ]
    return hashlib.sha256(json.dumps(decided).encode()).hexdigest()[:16]


def event_json(row: StepEvent) -> dict[str, Any]:
    """Return one event as the tablet keeps it."""
    return {
        "id": str(row.pk),
        "serial": row.serial,
        "step": row.step_id,
        "verb": row.verb,
        "field": row.field,
        "value": row.value,
        "unit": row.unit,
        "photo": None if row.photo_id is None else str(row.photo_id),
        "undoes": None if row.undoes is None else str(row.undoes),
        "replaces": row.replaces,
        "cause": row.cause,
        "by_name": row.by_name,
        "by_role": row.by_role,
        "device": row.device,
        "from": None if row.sent_from is None else str(row.sent_from.key),
        "at": row.claimed_at.isoformat(),
        "offset_ms": row.offset_ms,
        "done_at": row.done_at.isoformat(),
        "received_at": row.received_at.isoformat(),
        "design_number": row.design_number,
        "sequence": row.sequence,
    }
