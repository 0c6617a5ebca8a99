"""How old what is owed is: every open invoice by the days since it was due."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from jobs.ledger.account import open_of_notes
from jobs.ledger.sums import ZERO
from jobs.models import Invoice, Job, Payment, Shop

#: Last day past due of each column, and what it is called; what is older stands in the last one.
COLUMNS: Final = ((0, "Not due yet"), (30, "1–30 days"), (60, "31–60 days"), (90, "61–90 days"))
OVER: Final = "Over 90 days"


@dataclass(frozen=True, slots=True)
class OpenInvoice:
    """An invoice with what is still to pay of it."""

    invoice: Invoice
    open: Decimal

    def days_past(self, on: date) -> int:
        """Return how many days ago it was due; below zero while it is not."""
        return (on - self.invoice.due_on).days


@dataclass(frozen=True, slots=True)
class AgeRow:
    """What a job owes by age; ``ahead`` was paid before anything was invoiced for it."""

    job: Job
    columns: tuple[Decimal, ...]
    ahead: Decimal
    days_past: int

    @property
    def open(self) -> Decimal:
        """Return what is open in all."""
        return sum(self.columns, ZERO)


@dataclass(frozen=True, slots=True)
class AgeList:
    """All of a shop's open invoices, the oldest first."""

    rows: tuple[AgeRow, ...]
    columns: tuple[Decimal, ...]
    ahead: Decimal

    @property
    def open(self) -> Decimal:
        """Return what is open in all."""
        return sum(self.columns, ZERO)

    @property
    def overdue(self) -> Decimal:
        """Return what is past due."""
        return sum(self.columns[1:], ZERO)


def names() -> list[str]:
    """Return the headings of the columns."""
    return [*(name for _, name in COLUMNS), OVER]


def open_invoices(invoices: Sequence[Invoice], received: Decimal) -> tuple[list[OpenInvoice], Decimal]:
    """Return the invoices with something left to pay, and what was paid beyond them.

    A credit note is taken off the invoice it names; money pays the oldest due first.
    """
    found, pool = [], received
    for invoice in invoices:
        left = ZERO if invoice.is_credit else open_of_notes(invoice, invoices)
        if left > ZERO:
            found.append((invoice, left))
        pool -= min(left, ZERO)
    open_now = []
    for invoice, left in sorted(found, key=lambda one: (one[0].due_on, one[0].number)):
        paid = max(min(pool, left), ZERO)
        pool -= paid
        if left > paid:
            open_now.append(OpenInvoice(invoice, left - paid))
    return open_now, pool


def column_of(days_past: int) -> int:
    """Return the place of the column for so many days past due."""
    return next((place for place, (last, _) in enumerate(COLUMNS) if days_past <= last), len(COLUMNS))


def age_row(job: Job, invoices: Sequence[Invoice], received: Decimal, *, on: date) -> AgeRow:
    """Return what a job owes by age."""
    columns, oldest = [ZERO] * (len(COLUMNS) + 1), 0
    open_now, ahead = open_invoices(invoices, received)
    for one in open_now:
        columns[column_of(one.days_past(on))] += one.open
        oldest = max(oldest, one.days_past(on))
    return AgeRow(job, tuple(columns), ahead, oldest)


def age_list(shop: Shop, *, on: date) -> AgeList:
    """Return what the shop's customers owe on this day."""
    billed = _sums(Invoice.objects.of_shop(shop).values_list("job_id", "total"))
    received = _sums(Payment.objects.of_shop(shop).values_list("job_id", "amount"))
    owing = [pk for pk, total in billed.items() if total > received.get(pk, ZERO)]
    jobs = Job.objects.of_shop(shop).filter(pk__in=owing).select_related("vehicle__customer")
    invoices: dict[int, list[Invoice]] = {}
    for one in Invoice.objects.of_shop(shop).filter(job__in=owing).defer("snapshot").order_by("number"):
        invoices.setdefault(one.job_id, []).append(one)
    rows = [age_row(job, invoices[job.pk], received.get(job.pk, ZERO), on=on) for job in jobs]
    rows.sort(key=lambda row: (-row.days_past, row.job.number))
    columns = tuple(sum((row.columns[place] for row in rows), ZERO) for place in range(len(COLUMNS) + 1))
    ahead = (max(paid - billed.get(pk, ZERO), ZERO) for pk, paid in received.items())
    return AgeList(tuple(rows), columns, sum(ahead, ZERO))


def _sums(rows: Iterable[tuple[int, Decimal]]) -> dict[int, Decimal]:
    """Return the sum of each job; added here, for SQLite adds in floating point."""
    found: dict[int, Decimal] = {}
    for pk, amount in rows:
        found[pk] = found.get(pk, ZERO) + amount
    return found
