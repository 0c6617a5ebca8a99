"""What failed in the background of a shop: what it was, why, and a try again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.urls import reverse

from checklists.models import JobSheet
from checklists.sheet.print import SHEETS, sheet_task
from common.background import Queue
from common.told import in_english
from jobs.autolayout.run import RUNS as SEARCHES
from jobs.autolayout.run import layout_search_task
from jobs.models import LayRun, OutboxMail, ShadeRun, Shop
from jobs.shade.run import RUNS as SHADES
from jobs.shade.run import shade_task
from jobs.shop.log import log
from jobs.shop.outbox import MAILS, mail_task
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: Listed of each kind at most; older ones are seen when these are dealt with.
SHOWN: Final = 25


class RetryRefused(Refusal):
    """It cannot be tried again, or was already."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of background work: its rows, its queue and the page that shows it."""

    title: str
    queue: Queue[Any]
    path: str  # from a row to its job
    enqueue: Callable[[int], object]
    page: Callable[[Any], str]


KINDS: Final[Mapping[str, Kind]] = {
    "shade": Kind(
        "Shade of a year", SHADES, "design__job", shade_task.enqueue,
        lambda row: reverse("jobs:shade_detail", args=[row.design_id]),
    ),
    "layouts": Kind(
        "Search for layouts", SEARCHES, "design__job", layout_search_task.enqueue,
        lambda row: reverse("jobs:design_detail", args=[row.design_id]),
    ),
    "sheet": Kind(
        "Job sheet", SHEETS, "checklist__job", sheet_task.enqueue,
        lambda row: reverse("checklists:sheet_detail", args=[row.pk]),
    ),
    "letter": Kind(
        "Letter", MAILS, "job", mail_task.enqueue,
        lambda row: reverse("jobs:job_detail", args=[row.job_id]) if row.job_id else "",
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Failure:
    """One piece of work that failed, as a page or a terminal lists it."""

    kind: str
    title: str
    row: ShadeRun | LayRun | JobSheet | OutboxMail
    page: str
    job: Any
    can_retry: bool

    @property
    def error(self) -> str:
        """Return why, in a sentence."""
        return self.row.error

    @property
    def at(self) -> datetime:
        """Return when it was given up."""
        return self.row.touched_at


def failures_of(shop: Shop | None = None) -> list[Failure]:
    """Return what failed in a shop, or in every one, newest first."""
    found = []
    for name, kind in KINDS.items():
        rows = kind.queue.rows.filter(state=kind.queue.failed)
        if shop is not None:
            rows = rows.filter(**{rows.model.shop_path: shop.pk})
        for row in rows.select_related(kind.path).order_by("-touched_at")[:SHOWN]:
            job = row
            for step in kind.path.split("__"):
                job = getattr(job, step)
            found.append(Failure(name, kind.title, row, kind.page(row), job, _can_retry(row)))
    return sorted(found, key=lambda one: one.at, reverse=True)


def failure_count(shop: Shop) -> int:
    """Return how much failed in a shop."""
    rows = [kind.queue.rows.filter(state=kind.queue.failed) for kind in KINDS.values()]
    return sum(each.filter(**{each.model.shop_path: shop.pk}).count() for each in rows)


def _can_retry(row: Any) -> bool:
    """Return whether trying again makes sense: a letter needs its text and a mail server."""
    if isinstance(row, OutboxMail):
        return bool(row.body) and settings.MAIL_IS_SET_UP
    return not (isinstance(row, LayRun) and row.design.is_frozen)


@in_english
@transaction.atomic
def failure_retry(*, shop: Shop, kind: str, pk: int, actor: User, at: datetime) -> None:
    """Have failed work of the shop done again; of two owners who ask at once, one is refused.

    Raise NotAllowed for anybody but the owner, RetryRefused where there is nothing (any more) to try again.
    """
    require(actor, shop, "is_owner")
    found = KINDS.get(kind)
    rows = found.queue.rows.filter(pk=pk) if found else None
    row = rows.filter(**{rows.model.shop_path: shop.pk}).first() if rows is not None else None
    if found is None or row is None:
        raise RetryRefused("This is not there any more.")
    if row.state == found.queue.failed and not _can_retry(row):
        raise RetryRefused("Trying again makes no sense here: do it anew on its own page.")
    facts = {"due_at": at} if isinstance(row, OutboxMail) else {}
    if not found.queue.again(pk, at=at, enqueue=found.enqueue, **facts):
        raise RetryRefused("Somebody has had this tried again already.")
    log(shop=shop, actor=actor, verb="tried again", detail=found.title, at=at)
