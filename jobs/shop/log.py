"""Writes a change to the log: who, what, when, why."""

from __future__ import annotations

from datetime import datetime

from jobs.models import Job, LogEntry, Shop
from jobs.shop.actor import Actor, ByName, System, name_of


def log(
    *,
    shop: Shop,
    actor: Actor,
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
        actor=None if isinstance(actor, System | ByName) else actor,
        actor_name=name_of(actor),
        verb=verb,
        detail=detail,
        reason=reason,
        shows_prices=shows_prices,
        at=at,
    )
