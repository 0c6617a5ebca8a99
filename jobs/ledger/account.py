"""What a job's account says: agreed, invoiced, received, due, and each entry in the order it was written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from common.told import in_english
from jobs.ledger.sums import ZERO, Bill, bill_from
from jobs.models import ChangeOrder, Invoice, Job, LineKind, Payment, Quote
from jobs.quote import money
from jobs.quote.change_order import allowance_left
from jobs.quote.draft import tax_of


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the customer agreed to: the accepted quote, accepted changes, and the sum of both."""

    quote: Quote
    orders: tuple[ChangeOrder, ...]
    bill: Bill


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a statement: what was asked for or paid, and the balance after it."""

    day: date
    text: str
    charge: Decimal
    credit: Decimal
    balance: Decimal


@dataclass(frozen=True, slots=True)
class Account:
    """The account of a job. ``agreed`` is after credits; ``left`` has not been invoiced yet."""

    job: Job
    agreement: Agreement | None
    invoices: tuple[Invoice, ...]
    payments: tuple[Payment, ...]
    agreed: Bill
    billed: Bill
    received: Decimal

    @property
    def left(self) -> Bill:
        """Return what was agreed and not invoiced yet."""
        return self.agreed - self.billed

    @property
    def due(self) -> Decimal:
        """Return what was invoiced and not paid; below zero where more was paid."""
        return self.billed.total - self.received

    @property
    def balance(self) -> Decimal:
        """Return what the customer still pays until the job is settled."""
        return self.agreed.total - self.received

    @property
    def has_final(self) -> bool:
        """Return whether a final invoice stands."""
        return any(
            one.kind == Invoice.Kind.FINAL and open_of_notes(one, self.invoices) for one in self.invoices
        )

    @property
    def entries(self) -> list[Entry]:
        """Return the statement, oldest first."""
        return statement(self.invoices, self.payments)


def account_of(job: Job) -> Account:
    """Return the account of a job, read anew."""
    agreement = agreement_of(job)
    invoices = tuple(job.invoices.select_related("corrects").order_by("number"))
    payments = tuple(job.payments.select_related("undone_by", "undoes").order_by("number"))
    bill = Bill() if agreement is None else agreement.bill
    return Account(
        job,
        agreement,
        invoices,
        payments,
        agreed=bill - credits_of(invoices),
        billed=Bill.sum(map(bill_of, invoices)),
        received=sum((payment.amount for payment in payments), ZERO),
    )


def agreement_of(job: Job) -> Agreement | None:
    """Return what was agreed, None before a quote was accepted."""
    quote = job.quotes.filter(state=Quote.State.ACCEPTED).prefetch_related("lines").first()
    if quote is None:
        return None
    quote.job = job  # with its shop
    orders = tuple(job.change_orders.filter(state=ChangeOrder.State.ACCEPTED).prefetch_related("lines"))
    bill = Bill.sum([quote_bill(quote), *(order_bill(order, quote) for order in orders)])
    return Agreement(quote, orders, bill)


def quote_bill(quote: Quote) -> Bill:
    """Return what an accepted quote comes to with the extras taken, by rate of tax."""
    sums = money.totals(
        list(quote.lines.all()),
        tax=tax_of(quote),
        deposit_fraction=ZERO,
        currency=quote.job.shop.currency,
        chosen=quote.chosen_positions,
    )
    return Bill(quote.owed_total, sums.by_rate)


def order_bill(order: ChangeOrder, quote: Quote) -> Bill:
    """Return what an accepted change comes to, less the allowance it gives back."""
    sums = money.totals(
        list(order.lines.all()), tax=tax_of(quote), deposit_fraction=ZERO, currency=quote.job.shop.currency
    )
    return Bill(order.total, sums.by_rate) - Bill(order.credits_allowance)


def unused_allowance(agreement: Agreement, used: Decimal) -> Bill:
    """Return what is credited of the allowances when only so much was used, with the tax that lay on it."""
    job = agreement.quote.job
    rate = tax_of(agreement.quote).rate_of(LineKind.ALLOWANCE)
    return Bill.taxed(allowance_left(job) - used, rate, job.shop.currency)


def bill_of(invoice: Invoice) -> Bill:
    """Return an invoice's total with its rates."""
    return bill_from(invoice.total, invoice.taxes)


def credits_of(invoices: Iterable[Invoice]) -> Bill:
    """Return what invoices took off the agreed price: unused allowances, and price reductions."""
    found = Bill()
    for one in invoices:
        if one.lowers_price:
            found -= bill_of(one)
        if one.allowance_credit:
            found += bill_from(one.allowance_credit, one.snapshot["allowance"]["taxes"])
    return found


def open_of_notes(invoice: Invoice, invoices: Iterable[Invoice]) -> Decimal:
    """Return what credit notes have left of an invoice."""
    notes = (one.total for one in invoices if one.corrects_id == invoice.pk)
    return invoice.total + sum(notes, ZERO)


def statement(invoices: Sequence[Invoice], payments: Sequence[Payment]) -> list[Entry]:
    """Return invoices and payments by the moment they were written, with the balance after each."""
    rows = [(one.issued_at, one.issued_on, str(one), one.total) for one in invoices]
    rows += [(one.entered_at, one.received_on, payment_text(one), -one.amount) for one in payments]
    found, balance = [], ZERO
    for _, day, text, amount in sorted(rows, key=lambda row: row[0]):
        balance += amount
        found.append(Entry(day, text, max(amount, ZERO), max(-amount, ZERO), balance))
    return found


@in_english
def payment_text(payment: Payment) -> str:
    """Return what a payment is called: what undoes another names it."""
    if payment.undoes is not None:
        return f"{payment}: takes back {str(payment.undoes).lower()}"
    way = payment.get_method_display().lower()
    return f"{payment}: {'paid back' if payment.amount < 0 else 'payment'}, {way}"
