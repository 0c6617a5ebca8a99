"""Enters money received and given back; a wrong entry is undone by another one, never changed."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction

from common.currency import money_text, rounded
from common.told import in_english
from jobs.customers.job import job_move
from jobs.ledger.account import Account, account_of
from jobs.ledger.card_numbers import holds_card_number
from jobs.ledger.numbers import books_lock, next_receipt
from jobs.models import Job, LedgerCount, Payment, Quote
from jobs.shop.actor import name_of
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

M = Payment.Method


class PaymentRefused(Refusal):
    """The money cannot be entered so; says why."""


@in_english
@transaction.atomic
def payment_record(
    *,
    job: Job,
    amount: Decimal,
    actor: User,
    at: datetime,
    method: str = M.OTHER,
    received_on: date | None = None,
    reference: str = "",
    is_paid_back: bool = False,
) -> Payment:
    """Enter money received, or given back; a complete deposit or a settled account moves the job on.

    Raise PaymentRefused for more than is owed, or more back than came in.
    """
    require(actor, job.shop, "takes_money")
    count = books_lock(job.shop)
    account = account_of(job)
    today = local_date(job.shop, at)
    day = received_on or today
    _look_at(account, amount, day, today, reference, is_paid_back=is_paid_back)
    payment = _entered(
        Payment(
            job=job, received_on=day, method=method, reference=reference.strip(),
            amount=-amount if is_paid_back else amount,
        ),
        count, actor, at,
    )  # fmt: skip
    _move_on(job, actor, at)
    return payment


@in_english
@transaction.atomic
def payment_undo(*, payment: Payment, reason: str, actor: User, at: datetime) -> Payment:
    """Take back a wrong entry by one that says the opposite and why; both stay."""
    job = Job.objects.select_related("shop").get(pk=payment.job_id)
    require(actor, job.shop, "takes_money")
    count = books_lock(job.shop)
    if payment.undoes_id is not None or Payment.objects.filter(undoes=payment).exists():
        raise PaymentRefused("This entry was taken back already, or takes back another one.")
    if len(reason.strip()) < 5:
        raise PaymentRefused("Say in a few words what was wrong.")
    if holds_card_number(reason):
        raise PaymentRefused("That looks like a card number. Card numbers are never written down here.")
    return _entered(
        Payment(
            job=job, received_on=local_date(job.shop, at), method=payment.method,
            reference=payment.reference, amount=-payment.amount, undoes=payment, reason=reason.strip(),
        ),
        count, actor, at,
    )  # fmt: skip


def deposit_left(account: Account) -> Decimal:
    """Return what of the agreed deposit has not come in."""
    if account.agreement is None:
        return Decimal(0)
    return max(account.agreement.quote.owed_deposit - account.received, Decimal(0))


def deposit_record(
    *, job: Job, amount: Decimal, actor: User, at: datetime, method: str = M.OTHER, reference: str = ""
) -> Quote:
    """Enter money received toward the deposit; return the accepted quote."""
    payment_record(job=job, amount=amount, method=method, reference=reference, actor=actor, at=at)
    return job.quotes.get(state=Quote.State.ACCEPTED)


def _look_at(
    account: Account, amount: Decimal, day: date, today: date, reference: str, *, is_paid_back: bool
) -> None:
    """Raise PaymentRefused for money that cannot have moved so."""
    code = account.job.shop.currency
    if account.agreement is None:
        raise PaymentRefused("There is no accepted quote to pay on.")
    if amount <= 0:
        raise PaymentRefused("The amount must be above 0.")
    if amount != rounded(amount, code):
        raise PaymentRefused(f"{amount} cannot be paid in {code}: it has too many decimals.")
    if day > today:
        raise PaymentRefused("The day lies ahead: enter money when it is there.")
    if holds_card_number(reference):
        raise PaymentRefused("That looks like a card number. Card numbers are never written down here.")
    most = account.received if is_paid_back else max(account.balance, account.due)
    if amount > most:
        words = "has come in" if is_paid_back else "is still owed"
        raise PaymentRefused(
            f"Only {money_text(max(most, Decimal(0)), code)} {words}, not {money_text(amount, code)}."
        )


def _entered(payment: Payment, count: LedgerCount, actor: User, at: datetime) -> Payment:
    """Give the receipt its number and store it."""
    shop = payment.job.shop
    payment.shop, payment.number, payment.currency = shop, next_receipt(count), shop.currency
    payment.entered_at, payment.entered_by, payment.entered_by_name = at, actor, name_of(actor)
    payment.full_clean()
    payment.save()
    verb = "payment taken back" if payment.undoes_id else "payment entered"
    log(
        shop=shop, job=payment.job, actor=actor, verb=verb,
        detail=f"{payment}, {money_text(payment.amount, payment.currency)}", reason=payment.reason,
        shows_prices=True, at=at,
    )  # fmt: skip
    return payment


def _move_on(job: Job, actor: User, at: datetime) -> None:
    """Move a job whose deposit is complete, or whose final invoice is paid."""
    account = account_of(job)
    assert account.agreement is not None
    if job.state == Job.State.ACCEPTED and account.received >= account.agreement.quote.owed_deposit:
        reason = "Deposit received in full"
        job_move(job=job, to=Job.State.DEPOSIT_PAID, actor=actor, at=at, reason=reason)
    elif job.state == Job.State.INVOICED and account.has_final and account.balance <= 0:
        job_move(job=job, to=Job.State.PAID, actor=actor, at=at, reason="Paid in full")
