"""Invoices, receipts and statements on paper, in the shop's size."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from jobs.ledger.account import Account
from jobs.ledger.ages import open_invoices
from jobs.ledger.export import percent_text
from jobs.models import Invoice, Payment


def invoice_pdf(invoice: Invoice) -> bytes:
    """Return an invoice as PDF: its frozen words, nothing behind them."""
    doc = invoice.snapshot
    rates = [one | {"percent": percent_text(Decimal(one["rate"]))} for one in doc["taxes"]]
    has_untaxed = Decimal(doc["untaxed"]) != 0
    context = {
        "doc": doc, "rates": rates, "has_untaxed": has_untaxed, "shop": SimpleNamespace(**doc["shop"]),
    }  # fmt: skip
    head = {"job_number": doc["job"], "code": invoice.content_sha256[:12]}
    return _pdf("pdf/invoice.html", context, head, f"{doc['title']} {doc['number']}, {doc['shop']['name']}")


def receipt_pdf(payment: Payment) -> bytes:
    """Return a receipt for one payment."""
    shop = payment.job.shop
    context = {"payment": payment, "shop": shop, "customer": payment.job.vehicle.customer, "job": payment.job}
    return _pdf("pdf/receipt.html", context, {"job_number": payment.job.number}, f"{payment}, {shop.name}")


def statement_pdf(account: Account, *, on: date) -> bytes:
    """Return what was invoiced and paid on a job until this day, and what is open."""
    job = account.job
    open_now, ahead = open_invoices(account.invoices, account.received)
    context = {
        "account": account, "job": job, "shop": job.shop, "customer": job.vehicle.customer, "on": on,
        "open_now": open_now, "ahead": ahead,
    }  # fmt: skip
    return _pdf(
        "pdf/statement.html",
        context,
        {"job_number": job.number},
        f"Statement of {job.number}, {job.shop.name}",
    )


def _pdf(template: str, context: dict[str, Any], head: dict[str, str], title: str) -> bytes:
    from common.pdf import pdf_bytes  # the PDF library takes a second to import; pages must not wait for it

    return pdf_bytes(template, context | {"head": head}, title=title)
