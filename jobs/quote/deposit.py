"""Records deposit money as it comes in; the full sum opens ordering."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.customers.job import job_move
from jobs.models import Job, Quote
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class DepositRefused(Refusal):
    """The money cannot be entered so; says why."""


@in_english
@transaction.atomic
def deposit_record(*, job: Job, amount: Decimal, actor: User, at: datetime) -> Quote:
    """Add money received toward the deposit; once it is complete the job moves to deposit paid."""
    require(actor, job.shop, "takes_money")
    quote = Quote.objects.select_for_update().filter(job=job, state=Quote.State.ACCEPTED).first()
    if quote is None:
        raise DepositRefused("There is no accepted quote to pay a deposit on.")
    if amount <= 0:
        raise DepositRefused("The amount must be above 0.")
    if quote.deposit_paid + amount > quote.owed_total:
        raise DepositRefused(
            f"That is more than the whole quote: {quote.owed_total - quote.deposit_paid} is still due, not"
            f" {amount}."
        )
    quote.deposit_paid += amount
    quote.deposit_paid_at = at
    quote.save(update_fields=["deposit_paid", "deposit_paid_at"])
    log(
        shop=job.shop, job=job, actor=actor, verb="deposit received", detail=f"{amount} on {quote}",
        shows_prices=True, at=at,
    )  # fmt: skip
    if quote.deposit_left == 0 and job.state == Job.State.ACCEPTED:
        reason = "Deposit received in full"
        job_move(job=job, to=Job.State.DEPOSIT_PAID, actor=actor, at=at, reason=reason)
    return quote
