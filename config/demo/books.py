"""Keeps the demo's books: deposits invoiced and paid, one job settled, one with an overdue invoice."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils import timezone

from common.currency import rounded
from config.demo.shop import SHOP_NAME
from config.demo.stories import DAY, SOLD, Crew
from jobs.ledger.account import account_of
from jobs.ledger.invoice import allowance_open, invoice_issue
from jobs.ledger.payment import payment_record
from jobs.models import Invoice, Job, Payment, Quote, Shop

HOW_TO_PAY: Final = (
    "By check to Marrow Creek Coach Solar, or by transfer: Invented Bank of Creek County, account 0042 1177."
    "\nPlease name the invoice."
)
#: Of the agreed total, asked for when the parts came.
_PROGRESS: Final = Decimal("0.30")


@transaction.atomic
def books_tell() -> None:
    """Write the books, once: a shop that has an invoice is left alone."""
    shop = Shop.objects.filter(name=SHOP_NAME).first()
    if shop is None or Invoice.objects.of_shop(shop).exists():
        return
    Shop.objects.filter(pk=shop.pk).update(payment_text=HOW_TO_PAY)
    crew = Crew.of_shop()
    quotes = Quote.objects.of_shop(shop).filter(state=Quote.State.ACCEPTED, job__payments__isnull=False)
    for quote in quotes.distinct().order_by("answered_at", "pk"):
        _deposit(_job(quote.job_id), crew)
    overdue, settled = (Job.objects.get(shop=shop, vehicle__customer__name=sold.customer) for sold in SOLD)
    _settle(_job(settled.pk), crew)
    _ask_for_parts(_job(overdue.pk), crew)


def _job(pk: int) -> Job:
    return Job.objects.select_related("shop", "vehicle__customer").get(pk=pk)


def _deposit(job: Job, crew: Crew) -> None:
    """Issue the invoice over the deposit that was paid."""
    paid = Payment.objects.filter(job=job).order_by("number").first()
    assert paid is not None
    invoice_issue(job=job, kind="deposit", amount=paid.amount, actor=crew.owner, at=paid.entered_at)


def _settle(job: Job, crew: Crew) -> None:
    """Issue the final invoice on the day the job was released, and have it paid a week later."""
    released = job.moves.get(to_state=Job.State.RELEASED).at
    used = allowance_open(job, account_of(job)) or None
    final = invoice_issue(job=job, kind="final", allowance_used=used, actor=crew.owner, at=released)
    payment_record(
        job=job, amount=final.total, method="check", reference="No. 2207", actor=crew.owner,
        at=min(released + 7 * DAY, timezone.now()),
    )  # fmt: skip


def _ask_for_parts(job: Job, crew: Crew) -> None:
    """Ask for a share when the parts came; it was due a week later and nobody paid."""
    came = job.moves.get(to_state=Job.State.READY).at
    amount = rounded(account_of(job).agreed.total * _PROGRESS, job.shop.currency)
    due = (came + 7 * DAY).date()
    invoice_issue(
        job=job, kind="progress", amount=amount, due_on=due, note="Parts for your trailer have come in.",
        actor=crew.owner, at=came,
    )  # fmt: skip
