"""Knows what becomes of background work whose worker stopped: taken up again, after two times given up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, Final

from django.db.models import QuerySet

#: Work that stopped with its worker is taken up again so often by itself, then by hand only.
MOST_ATTEMPTS: Final = 2


def take_up(
    rows: QuerySet[Any],
    *,
    running: str,
    waiting: str,
    failed: str,
    error: str,
    at: datetime,
    enqueue: Callable[[int], None],
    **fresh: Any,
) -> int:
    """Have cut-off work wait again, or fail with ``error``; enqueue what waits; return how many were found.

    To be called where the only worker starts: nothing can be running then. ``fresh`` is what a row that waits
    again is set to.
    """
    cut_off = rows.filter(state=running)
    given_up = cut_off.filter(attempts__gte=MOST_ATTEMPTS).update(state=failed, touched_at=at, error=error)
    again = cut_off.update(state=waiting, touched_at=at, **fresh)
    for pk in rows.filter(state=waiting).values_list("pk", flat=True):
        enqueue(pk)
    return given_up + again
