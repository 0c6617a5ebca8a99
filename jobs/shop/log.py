"""Writes a change to the log: who, what, when, why."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from jobs.models import Job, LogEntry, Shop


def name_of(actor: Any) -> str:
    """Return the name to print for a person, or the customer's or tablet's own name when given as text."""
    if actor is None:
        return ""
    if isinstance(actor, str):
        return actor
    return actor.get_full_name() or actor.get_username()


def log(
    *,
    shop: Shop,
    actor: Any,
    verb: str,
    at: datetime,
    job: Job | None = None,
    detail: str = "",
    reason: str = "",
    shows_prices: bool = False,
) -> LogEntry:
    """Write one line of the log inside the transaction of its change; ``shows_prices`` hides it from some."""
    return LogEntry.objects.create(
        shop=shop,
        job=job,
        actor=None if actor is None or isinstance(actor, str) else actor,
        actor_name=name_of(actor),
        verb=verb,
        detail=detail,
        reason=reason,
        shows_prices=shows_prices,
        at=at,
    )
