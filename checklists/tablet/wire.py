"""The form in which a tablet sends its events, and a strict reader of it. Pure.

Clocks: ``offset_ms`` is our clock less the tablet's, as measured at ``hello``; added to a time the tablet
claims it gives the time by our clock. Both are kept to be read by people; neither decides anything.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import uuid
from dataclasses import dataclass
from typing import Any, Final

from django.utils.dateparse import parse_datetime

from checklists.rules.entries import Entry, clean_text

#: More events than this in one batch are sent in several. [-]
BATCH_LIMIT: Final = 1000
#: The form of this wire: the day it last changed. A shell of an older day is still read down to OLDEST_FORM,
#: which may only move to a day at least 90 days before the release that moves it.
FORM: Final = "2026-11-26"
OLDEST_FORM: Final = "2026-11-26"
#: A clock further off than this is not a clock: its offset is not kept. [ms]
MOST_OFFSET_MS: Final = 100 * 366 * 86_400_000
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_TEXTS: Final = {"verb": 8, "field": 40, "unit": 12, "cause": 400, "device": 64}


class BadBatch(ValueError):
    """A body that is no list of events; says where."""


class FormTooOld(BadBatch):
    """The tablet's shell writes a form that is not read any more."""


@dataclass(frozen=True, slots=True)
class Batch:
    """What one request brings: events, and which tablet they come from if it says so."""

    entries: tuple[Entry, ...]
    device: uuid.UUID | None = None
    device_name: str = ""
    app: str = ""
    offset_ms: int | None = None


def read_batch(body: bytes) -> Batch:
    """Return the events of a body; raise BadBatch for anything that is not a list of events."""
    try:
        data = json.loads(body, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):  # cut off, not text, not JSON, NaN, nested without end
        raise BadBatch("The body is not readable JSON; send the whole batch again.") from None
    if not isinstance(data, dict):
        raise BadBatch('The body must be {"events": [ … ]}.')
    app = _text(data, "app", 40, "body")
    if _DAY.match(app) and app[:10] < OLDEST_FORM:
        raise FormTooOld("Please update this tablet; your work is kept on it.")
    events = data.get("events")
    if not isinstance(events, list):
        raise BadBatch('The body must be {"events": [ … ]}.')
    if len(events) > BATCH_LIMIT:
        raise BadBatch(f"At most {BATCH_LIMIT} events at a time, got {len(events)}.")
    device = data.get("device")
    return Batch(
        entries=tuple(_entry(event, f"events[{place}]") for place, event in enumerate(events)),
        device=None if device in (None, "") else read_uuid(device, "device"),
        device_name=_text(data, "device_name", 64, "body"),
        app=app,
        offset_ms=_offset(data.get("offset_ms")),
    )


def read_uuid(value: Any, where: str) -> uuid.UUID:
    """Return a UUID written as text; raise BadBatch for anything else."""
    try:
        return uuid.UUID(value)
    except (ValueError, TypeError, AttributeError):
        raise BadBatch(f"{where} must be a UUID.") from None


def _entry(event: Any, where: str) -> Entry:
    if not isinstance(event, dict):
        raise BadBatch(f"{where} must be an object.")
    texts = {name: _text(event, name, most, where) for name, most in _TEXTS.items()}
    return Entry(
        id=read_uuid(event.get("id"), f"{where}.id"),
        step=0 if event.get("step") is None else _whole(event.get("step"), f"{where}.step"),
        verb=texts["verb"] or "record",
        field=texts["field"],
        value=event.get("value"),
        unit=texts["unit"],
        photo=read_uuid(event["photo"], f"{where}.photo") if event.get("photo") else None,
        undoes=read_uuid(event["undoes"], f"{where}.undoes") if event.get("undoes") else None,
        replaces=_uuids(event.get("replaces") or [], f"{where}.replaces"),
        cause=texts["cause"],
        device=texts["device"],
        claimed_at=_moment(event.get("at"), f"{where}.at"),
        design_number=_whole(event["design_number"], f"{where}.design_number", 32767)
        if event.get("design_number") is not None
        else None,
        sequence=_whole(event["sequence"], f"{where}.sequence")
        if event.get("sequence") is not None
        else None,
    )


def _text(holder: dict[str, Any], name: str, most: int, where: str) -> str:
    value = holder.get(name)
    if value is None:
        return ""
    if not isinstance(value, str) or len(value) > most:
        raise BadBatch(f"{where}.{name} must be text of at most {most} characters.")
    return clean_text(value)


def _uuids(values: Any, where: str) -> tuple[uuid.UUID, ...]:
    if not isinstance(values, list) or len(values) > 100:
        raise BadBatch(f"{where} must be a list of at most 100 UUIDs.")
    return tuple(read_uuid(value, f"{where}[{place}]") for place, value in enumerate(values))


def _whole(value: Any, where: str, most: int = 2**31 - 1) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value <= most:
        raise BadBatch(f"{where} must be a whole number of 1 to {most}.")
    return value


def _offset(value: Any) -> int | None:
    """Return how far the tablet's clock is off, as measured; None where that was not possible."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadBatch("body.offset_ms must be a whole number of milliseconds.")
    return value if abs(value) <= MOST_OFFSET_MS else None


def _moment(value: Any, where: str) -> dt.datetime | None:
    """Return the tablet's own time; None for a clock that says nothing (before 1971, after 2199)."""
    if value is None:
        return None
    try:
        found = parse_datetime(value) if isinstance(value, str) else None
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise BadBatch(f"{where} must be a time with its zone, like 2027-03-31T09:10:00Z.")
    return found.astimezone(dt.UTC) if 1970 < found.year < 2200 else None


def _refuse_constant(name: str) -> Any:
    raise ValueError(name)
