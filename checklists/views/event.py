"""Answers for batches of events: any order, any repeat, all of a batch or none."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_POST

from checklists.entries import Entry
from checklists.selectors.pages import checklist_or_404
from checklists.services.recording import BATCH_LIMIT, events_record
from jobs.services.refusals import Refusal

_TEXTS = {"verb": 8, "field": 40, "unit": 12, "cause": 400, "device": 64}


class BadBatch(ValueError):
    """A body that is no list of events; says where."""


@require_POST
def event_batch(request: HttpRequest, job_pk: int) -> JsonResponse:
    """Store a batch; the answer names every event that is safe here, so that the tablet may forget it.

    A signed-out tablet gets 401 and keeps its queue: a redirect to the sign-in page would look like success.
    """
    if not request.user.is_authenticated or request.membership is None:  # type: ignore[attr-defined]
        return JsonResponse({"error": "Please sign in again; what is queued is kept."}, status=401)
    checklist = checklist_or_404(request.user, job_pk)
    try:
        entries = read_batch(request.body)
    except BadBatch as problem:
        return JsonResponse({"error": str(problem)}, status=400)
    try:
        done = events_record(checklist=checklist, entries=entries, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        return JsonResponse({"error": str(refusal)}, status=409)
    locked = [letter for letter in done.work.holds.letters if done.work.holds.locks(letter)]
    return JsonResponse(
        {
            "new": [str(name) for name in done.new],
            "known": [str(name) for name in done.known],
            "locked_phases": locked,
            "deviations": [
                {"pk": row.pk, "sentence": row.sentence, "verdict": row.as_built_verdict}
                for row in done.deviations
            ],
        }
    )


def read_batch(body: bytes) -> list[Entry]:
    """Return the events of a body; raise BadBatch for anything that is not a list of events."""
    try:
        data = json.loads(body, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):  # cut off, not text, not JSON, NaN, nested without end
        raise BadBatch("The body is not readable JSON; send the whole batch again.") from None
    events = data.get("events") if isinstance(data, dict) else None
    if not isinstance(events, list):
        raise BadBatch('The body must be {"events": [ … ]}.')
    if len(events) > BATCH_LIMIT:
        raise BadBatch(f"At most {BATCH_LIMIT} events at a time, got {len(events)}.")
    return [_entry(event, f"events[{place}]") for place, event in enumerate(events)]


def _entry(event: Any, where: str) -> Entry:
    if not isinstance(event, dict):
        raise BadBatch(f"{where} must be an object.")
    texts = {name: _text(event, name, most, where) for name, most in _TEXTS.items()}
    return Entry(
        id=_uuid(event.get("id"), f"{where}.id"),
        step=_whole(event.get("step"), f"{where}.step"),
        verb=texts["verb"] or "record",
        field=texts["field"],
        value=event.get("value"),
        unit=texts["unit"],
        photo=_uuid(event["photo"], f"{where}.photo") if event.get("photo") else None,
        undoes=_uuid(event["undoes"], f"{where}.undoes") if event.get("undoes") else None,
        replaces=_uuids(event.get("replaces") or [], f"{where}.replaces"),
        cause=texts["cause"],
        device=texts["device"],
        claimed_at=_moment(event.get("at"), f"{where}.at"),
        design_number=_whole(event["design_number"], f"{where}.design_number", 32767)
        if event.get("design_number") is not None
        else None,
    )


def _text(event: dict[str, Any], name: str, most: int, where: str) -> str:
    value = event.get(name, "")
    if not isinstance(value, str) or len(value) > most:
        raise BadBatch(f"{where}.{name} must be text of at most {most} characters.")
    return value


def _uuid(value: Any, where: str) -> uuid.UUID:
    try:
        return uuid.UUID(value)
    except (ValueError, TypeError, AttributeError):
        raise BadBatch(f"{where} must be a UUID.") from None


def _uuids(values: Any, where: str) -> tuple[uuid.UUID, ...]:
    if not isinstance(values, list) or len(values) > 100:
        raise BadBatch(f"{where} must be a list of at most 100 UUIDs.")
    return tuple(_uuid(value, f"{where}[{place}]") for place, value in enumerate(values))


def _whole(value: Any, where: str, most: int = 2**31 - 1) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value <= most:
        raise BadBatch(f"{where} must be a whole number of 1 to {most}.")
    return value


def _moment(value: Any, where: str) -> dt.datetime | None:
    """Return the device's own time; it is kept and never decides an order."""
    if value is None:
        return None
    try:
        found = parse_datetime(value) if isinstance(value, str) else None
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise BadBatch(f"{where} must be a time with its zone, like 2027-03-31T09:10:00Z.")
    return found


def _refuse_constant(name: str) -> Any:
    raise ValueError(name)
