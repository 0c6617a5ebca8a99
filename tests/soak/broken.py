"""Builds broken on purpose: what the soak tests must find. Never used outside tests.

``no_unique_key``: an event's id is not its key, a repeat is stored again. ``no_commit``: the answer goes out,
the transaction is rolled back; ``no_photo_commit`` does so with a picture. ``device_clock``: the newest
claimed time wins. ``row_by_row``: a batch is no transaction.
"""

from __future__ import annotations

import inspect
import time
import uuid
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import Any
from unittest import mock

from django.db import transaction

from checklists.record import events
from checklists.rules import kept, reducer

Patch = AbstractContextManager[Any]


def no_unique_key() -> list[Patch]:
    """Store every event under a name of our own; answer with the tablet's."""
    real = events.events_record

    def record(*, entries: Any, **more: Any) -> Any:
        done = real(entries=[replace(entry, id=uuid.uuid4()) for entry in entries], **more)
        return replace(done, new=tuple(entry.id for entry in entries), known=())

    return [mock.patch("checklists.views.event.events_record", record)]


def no_commit() -> list[Patch]:
    """Answer as if it were stored."""
    real = events.events_record

    def record(**more: Any) -> Any:
        with transaction.atomic():
            done = real(**more)
            transaction.set_rollback(True)
        return done

    return [mock.patch("checklists.views.event.events_record", record)]


def no_photo_commit() -> list[Patch]:
    """Name a photo that is not stored."""
    from checklists.views import upload

    real = upload.upload_finish

    def finish(**more: Any) -> Any:
        with transaction.atomic():
            done = real(**more)
            transaction.set_rollback(done.photo_id is not None)
        return done

    return [mock.patch.object(upload, "upload_finish", finish)]


def device_clock() -> list[Patch]:
    """Let the newest claimed time win a field."""
    real = reducer.reduced_field

    def newest(records: Any, undone: Any) -> Any:
        every = list(records)
        found = real(every, undone)
        live = [event for event in every if event.id not in undone]
        last = sorted(live, key=lambda event: (event.claimed, event.id.int))[-1:]
        return replace(found, state=replace(found.state, standing=tuple(last)))

    from checklists.record import read as install

    told = install.event_of

    class Claimed(reducer.Event):
        """An event that carries the device's own time."""

    def event_of(row: Any) -> Any:
        event = told(row)
        made = Claimed(**{name: getattr(event, name) for name in event.__slots__})
        object.__setattr__(made, "claimed", row.claimed_at)
        return made

    return [
        mock.patch.object(reducer, "reduced_field", newest),
        mock.patch.object(kept, "reduced_field", newest),
        mock.patch.object(kept, "_with", return_value=None),  # each field from its whole history
        mock.patch.object(install, "event_of", event_of),
    ]


def row_by_row() -> list[Patch]:
    """Store a batch outside any transaction, slowly."""

    def store(checklist: Any, rows: Any, author: Any, sent: Any, at: Any) -> None:
        last = events.StepEvent.objects.filter(checklist=checklist).order_by("-serial").first()
        for serial, row in enumerate(rows, (last.serial if last else 0) + 1):
            row.serial, row.received_at, row.claimed_at = serial, at, row.claimed_at or at
            row.by, row.by_name, row.by_role = author.user, author.name, author.role
            row.save(force_insert=True)
            time.sleep(0.1)

    real: Callable[..., Any] = inspect.unwrap(events.events_record)
    return [
        mock.patch.object(events, "_store", store),
        mock.patch("checklists.views.event.events_record", real),
    ]


BUILDS: dict[str, Callable[[], list[Patch]]] = {
    "no_unique_key": no_unique_key,
    "no_commit": no_commit,
    "no_photo_commit": no_photo_commit,
    "device_clock": device_clock,
    "row_by_row": row_by_row,
}
