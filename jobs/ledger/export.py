"""A month of the shop's books as a table for whoever keeps them: invoices by rate, money in, sums by rate."""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Final

from common.currency import digits_text
from common.told import in_english
from jobs.ledger.account import bill_of
from jobs.ledger.sums import ZERO, Bill
from jobs.models import Invoice, Payment, Shop

HEAD: Final = (
    "date", "document", "number", "job", "customer", "due", "method", "reference", "currency", "tax rate %",
    "net", "tax", "gross", "entered by",
)  # fmt: skip
_UNTAXED: Final = "0"


def months_with_books(shop: Shop) -> list[date]:
    """Return the first days of the months in which something was written, newest first."""
    days = {*Invoice.objects.of_shop(shop).values_list("issued_on", flat=True)}
    days |= {*Payment.objects.of_shop(shop).values_list("received_on", flat=True)}
    return sorted({day.replace(day=1) for day in days}, reverse=True)


@in_english
def month_rows(shop: Shop, month: date) -> list[list[str]]:
    """Return the table of one month, headings first; sums stand at its end."""
    first = month.replace(day=1)
    last = first.replace(day=calendar.monthrange(first.year, first.month)[1])
    invoices = list(
        Invoice.objects.of_shop(shop)
        .filter(issued_on__range=(first, last))
        .select_related("job")
        .order_by("number")
    )
    payments = list(
        Payment.objects.of_shop(shop)
        .filter(received_on__range=(first, last))
        .select_related("job__vehicle__customer", "undoes")
        .order_by("number")
    )
    rows = [list(HEAD)]
    for invoice in invoices:
        rows += _invoice_rows(invoice)
    rows += [_payment_row(payment) for payment in payments]
    return rows + _sums(invoices, payments, shop.currency)


def percent_text(rate: Decimal) -> str:
    """Return a rate as percent without idle zeros: 7.75, 20."""
    text = f"{rate * 100:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def rate_lines(bill: Bill) -> list[tuple[str, Decimal, Decimal]]:
    """Return percent, net and tax of each rate of a sum; what is not taxed stands at 0."""
    lines = [(percent_text(each.rate), each.base, each.tax) for each in bill.rates]
    return ([(_UNTAXED, bill.untaxed, ZERO)] if bill.untaxed or not lines else []) + lines


def _invoice_rows(invoice: Invoice) -> list[list[str]]:
    code = invoice.currency
    customer = str(invoice.snapshot["customer"]["name"])
    return [
        [
            invoice.issued_on.isoformat(), str(invoice.get_kind_display()), str(invoice.number),
            invoice.job.number, customer, invoice.due_on.isoformat(), "", "", code, percent,
            digits_text(net, code), digits_text(tax, code), digits_text(net + tax, code),
            invoice.issued_by_name,
        ]
        for percent, net, tax in rate_lines(bill_of(invoice))
    ]  # fmt: skip


def _payment_row(payment: Payment) -> list[str]:
    code = payment.currency
    what = "Payment taken back" if payment.undoes else "Paid back" if payment.amount < 0 else "Payment"
    return [
        payment.received_on.isoformat(), what, str(payment.number), payment.job.number,
        payment.job.vehicle.customer.name, "", str(payment.get_method_display()), payment.reference, code, "",
        "", "", digits_text(payment.amount, code), payment.entered_by_name,
    ]  # fmt: skip


def _sums(invoices: Iterable[Invoice], payments: Iterable[Payment], usual: str) -> list[list[str]]:
    """Return the month's sums: invoiced by rate of tax, in all, and money in, a block for each currency."""
    invoices, payments = list(invoices), list(payments)
    codes = sorted({*(one.currency for one in invoices), *(one.currency for one in payments)}) or [usual]
    rows = []
    for code in codes:
        bill = Bill.sum(bill_of(one) for one in invoices if one.currency == code)
        for percent, net, tax in rate_lines(bill):
            rows.append(_sum_row("Invoiced at this rate", code, percent, net, tax, net + tax))
        rows.append(_sum_row("Invoiced", code, "", bill.total - bill.tax, bill.tax, bill.total))
        received = sum((one.amount for one in payments if one.currency == code), ZERO)
        rows.append(_sum_row("Received", code, "", None, None, received))
    return rows


def _sum_row(
    what: str, code: str, percent: str, net: Decimal | None, tax: Decimal | None, gross: Decimal
) -> list[str]:
    parts = ["" if one is None else digits_text(one, code) for one in (net, tax, gross)]
    return ["", what, "", "", "", "", "", "", code, percent, *parts, ""]
