"""Issues invoices and credit notes: each gets the next number, is frozen, and is never changed again."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction

from common.currency import money_text, rounded
from common.told import in_english
from jobs.customers.job import job_move
from jobs.ledger.account import Account, account_of, bill_of, open_of_notes, unused_allowance
from jobs.ledger.card_numbers import holds_card_number
from jobs.ledger.document import Draft, invoice_document
from jobs.ledger.numbers import books_lock, next_invoice
from jobs.ledger.sums import Bill, as_texts, part_of
from jobs.models import Invoice, Job, LedgerCount
from jobs.quote.change_order import allowance_left
from jobs.quote.document import content_sha256
from jobs.shop.actor import name_of
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

K = Invoice.Kind


class InvoiceRefused(Refusal):
    """The invoice cannot be issued so; says why."""


@in_english
@transaction.atomic
def invoice_issue(
    *,
    job: Job,
    kind: str,
    actor: User,
    at: datetime,
    amount: Decimal | None = None,
    allowance_used: Decimal | None = None,
    due_on: date | None = None,
    note: str = "",
) -> Invoice:
    """Issue a deposit or progress invoice over an amount, tax included, or the final one over what is left.

    The final one credits what was not used of the allowances. Raise InvoiceRefused for more than is left.
    """
    require(actor, job.shop, "takes_money")
    count = books_lock(job.shop)
    account = account_of(job)
    _must_be_plain(note)
    today = local_date(job.shop, at)
    due = due_on or today + timedelta(days=job.shop.invoice_due_days)
    if due < today:
        raise InvoiceRefused("The due date lies before today.")
    if kind == K.FINAL:
        draft = _final(account, allowance_used, today, due, note)
    else:
        draft = Draft(kind, _part(account, amount), today, due, note)
    invoice = _issued(account, draft, count, actor, at)
    if kind == K.FINAL and job.state == Job.State.RELEASED:
        job_move(job=job, to=Job.State.INVOICED, actor=actor, at=at, reason=f"{invoice} issued")
    return invoice


@in_english
@transaction.atomic
def credit_note_issue(
    *, invoice: Invoice, amount: Decimal, reason: str, lowers_price: bool, actor: User, at: datetime
) -> Invoice:
    """Take back an invoice or a part of it. Where the price is not lowered it may be invoiced anew."""
    job = Job.objects.select_related("shop", "vehicle__customer").get(pk=invoice.job_id)
    require(actor, job.shop, "takes_money")
    count = books_lock(job.shop)
    account = account_of(job)
    _must_be_plain(reason)
    if invoice.is_credit:
        raise InvoiceRefused("A credit note is not credited: issue an invoice instead.")
    if len(reason.strip()) < 5:
        raise InvoiceRefused("Say in a few words why: it is printed on the credit note.")
    if amount <= 0:
        raise InvoiceRefused("The amount must be above 0.")
    left = open_of_notes(invoice, account.invoices)
    if amount > left:
        raise InvoiceRefused(
            f"{invoice} has only {money_text(left, invoice.currency)} left to credit, not"
            f" {money_text(amount, invoice.currency)}."
        )
    rest = Bill.sum(
        [bill_of(invoice), *(bill_of(one) for one in account.invoices if one.corrects_id == invoice.pk)]
    )
    bill = rest if amount == left else part_of(rest, amount, invoice.currency)
    today = local_date(job.shop, at)
    draft = Draft(K.CREDIT, -bill, today, today, reason.strip(), corrects=invoice, lowers_price=lowers_price)
    return _issued(account, draft, count, actor, at)


def allowance_open(job: Job, account: Account) -> Decimal:
    """Return what of the allowances a final invoice still has to settle."""
    if account.agreement is None:
        return Decimal(0)
    return allowance_left(job)


def deposit_asked(account: Account) -> Decimal:
    """Return what of the agreed deposit was not invoiced yet."""
    if account.agreement is None:
        return Decimal(0)
    billed = sum((one.total for one in account.invoices), Decimal(0))
    return max(account.agreement.quote.owed_deposit - billed, Decimal(0))


def _part(account: Account, amount: Decimal | None) -> Bill:
    """Return the share of what was agreed that a deposit or progress invoice asks for."""
    code = account.job.shop.currency
    if account.agreement is None:
        raise InvoiceRefused("There is no accepted quote to invoice.")
    if amount is None or amount <= 0:
        raise InvoiceRefused("The amount must be above 0.")
    if amount != rounded(amount, code):
        raise InvoiceRefused(f"{amount} cannot be paid in {code}: it has too many decimals.")
    if amount > account.left.total:
        raise InvoiceRefused(
            f"That is more than is left to invoice: {money_text(account.left.total, code)}, not"
            f" {money_text(amount, code)}."
        )
    return account.left if amount == account.left.total else part_of(account.left, amount, code)


def _final(account: Account, used: Decimal | None, today: date, due: date, note: str) -> Draft:
    """Return the invoice over everything that is left, with the unused allowance taken off."""
    if account.agreement is None:
        raise InvoiceRefused("There is no accepted quote to invoice.")
    if account.has_final and not account.left.total:
        raise InvoiceRefused("Everything that was agreed has been invoiced.")
    held = allowance_open(account.job, account)
    if not held:
        return Draft(K.FINAL, account.left, today, due, note)
    if used is None or not 0 <= used <= held:
        raise InvoiceRefused(
            "Say how much of the allowances was used, 0 to"
            f" {money_text(held, account.job.shop.currency)}: the rest is credited back."
        )
    allowance = unused_allowance(account.agreement, used)
    bill = account.left - allowance
    return Draft(K.FINAL, bill, today, due, note, allowance_used=used, allowance=allowance)


def _issued(account: Account, draft: Draft, count: LedgerCount, actor: User, at: datetime) -> Invoice:
    """Give the number, freeze the words and store the invoice."""
    job = account.job
    number = next_invoice(count)
    document = invoice_document(account, draft, number)
    invoice = Invoice(
        shop=job.shop, job=job, number=number, kind=draft.kind, corrects=draft.corrects,
        issued_on=draft.issued_on, due_on=draft.due_on, currency=job.shop.currency, total=draft.bill.total,
        tax=draft.bill.tax, taxes=as_texts(draft.bill), lowers_price=draft.lowers_price,
        allowance_credit=draft.allowance.total if draft.allowance else Decimal(0), snapshot=document,
        content_sha256=content_sha256(document), issued_at=at, issued_by=actor, issued_by_name=name_of(actor),
    )  # fmt: skip
    invoice.full_clean()
    invoice.save()
    log(
        shop=job.shop, job=job, actor=actor, verb="invoice issued",
        detail=f"{invoice}, {money_text(invoice.total, invoice.currency)}", reason=draft.note,
        shows_prices=True, at=at,
    )  # fmt: skip
    return invoice


def _must_be_plain(text: str) -> None:
    if holds_card_number(text):
        raise InvoiceRefused("That looks like a card number. Card numbers are never written down here.")
