"""What an invoice says, word for word: lines as agreed, what was billed before, tax by rate, how to pay.

The document is plain data. It is frozen when the invoice is issued; page, paper and file print this.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from common.currency import digits_text, money_text
from common.told import in_english
from jobs.ledger.account import Account, Agreement
from jobs.ledger.sums import Bill, as_texts
from jobs.models import Customer, Invoice, Shop
from jobs.models.quote import Line
from jobs.quote.document import day, shown_line, shown_shop, shown_vehicle

FORM: Final = "invoice 1"


@dataclass(frozen=True, slots=True)
class Draft:
    """An invoice about to be issued: everything but its number."""

    kind: str
    bill: Bill
    issued_on: date
    due_on: date
    note: str = ""
    allowance_used: Decimal | None = None
    allowance: Bill | None = None
    corrects: Invoice | None = None
    lowers_price: bool = False


@in_english
def invoice_document(account: Account, draft: Draft, number: int) -> dict[str, Any]:
    """Return the invoice as the customer reads it; its sums have the decimals of the shop's currency."""
    job, shop = account.job, account.job.shop
    code = shop.currency
    billed = account.billed + draft.bill
    return {
        "form": FORM,
        "kind": draft.kind,
        "title": str(Invoice.Kind(draft.kind).label),
        "number": str(number),
        "issued_on": day(draft.issued_on),
        "due_on": day(draft.due_on),
        "shop": shown_shop(shop) | {"payment_text": shop.payment_text},
        "customer": _customer(job.vehicle.customer),
        "vehicle": shown_vehicle(job.vehicle),
        "job": job.number,
        "job_title": job.title,
        "note": draft.note,
        **_body(account, draft, shop),
        "taxes": [
            {
                **one,
                "base": digits_text(Decimal(one["base"]), code),
                "tax": digits_text(Decimal(one["tax"]), code),
            }
            for one in as_texts(draft.bill)
        ],
        "untaxed": digits_text(draft.bill.untaxed, code),
        "tax": digits_text(draft.bill.tax, code),
        "total": digits_text(draft.bill.total, code),
        "allowance": _allowance(draft),
        "account": {
            "billed": digits_text(billed.total, code),
            "received": digits_text(account.received, code),
            "due": digits_text(max(billed.total - account.received, Decimal(0)), code),
        },
    }


def _customer(customer: Customer) -> dict[str, str]:
    return {name: str(getattr(customer, name)) for name in ("name", "address", "phone", "email")}


def _allowance(draft: Draft) -> dict[str, Any] | None:
    if draft.allowance is None:
        return None
    return {"used": f"{draft.allowance_used or Decimal(0):f}", "taxes": as_texts(draft.allowance)}


def _body(account: Account, draft: Draft, shop: Shop) -> dict[str, Any]:
    """Return the lines of an invoice: a final one has all that was agreed less what was billed before."""
    agreement = account.agreement
    if draft.kind == Invoice.Kind.FINAL and agreement is not None:
        return {"groups": _groups(agreement), "steps": _steps(account, agreement, draft), "lines": []}
    return {"groups": [], "steps": [], "lines": [_one_line(account, draft, shop)]}


def _one_line(account: Account, draft: Draft, shop: Shop) -> dict[str, str]:
    amount = digits_text(draft.bill.total, shop.currency)
    if draft.corrects is not None:
        return {
            "text": f"Credit on invoice {draft.corrects.number} of {day(draft.corrects.issued_on)}",
            "amount": amount,
        }
    what = "Deposit" if draft.kind == Invoice.Kind.DEPOSIT else "Part payment"
    total = money_text(account.agreed.total, shop.currency)
    return {"text": f"{what} on the agreed total of {total}", "amount": amount}


def _groups(agreement: Agreement) -> list[dict[str, Any]]:
    """Return what was agreed: the quote's lines with the extras taken, then each change."""
    quote = agreement.quote
    taken = [
        line for line in quote.lines.all() if not line.is_optional or line.position in quote.chosen_positions
    ]
    tax = quote.tax if quote.agreed_tax is None else quote.agreed_tax
    groups = [_group(f"As agreed in quote {quote.number}", taken, tax, quote.owed_total, quote.job.shop)]
    groups += [
        _group(str(order), order.lines.all(), order.tax, order.total, quote.job.shop)
        for order in agreement.orders
    ]
    return groups


def _group(title: str, lines: Iterable[Line], tax: Decimal, total: Decimal, shop: Shop) -> dict[str, Any]:
    return {
        "title": title,
        "lines": [
            shown_line(line) | {"amount": digits_text(line.amount, shop.currency)}
            for line in lines
            if line.amount
        ],
        "subtotal": digits_text(total - tax, shop.currency),
        "tax": digits_text(tax, shop.currency),
        "total": digits_text(total, shop.currency),
    }


def _steps(account: Account, agreement: Agreement, draft: Draft) -> list[dict[str, str]]:
    """Return what leads from the sums agreed to what this invoice asks for."""
    code = account.job.shop.currency
    steps = [
        (f"Allowance credited back, {str(order).lower()}", -order.credits_allowance)
        for order in agreement.orders
        if order.credits_allowance
    ]
    if draft.allowance is not None and draft.allowance.total:
        steps.append(("Allowance not used, credited back", -draft.allowance.total))
    for one in account.invoices:
        if one.allowance_credit:
            steps.append(("Allowance not used, credited back", -one.allowance_credit))
        if not one.lowers_price:  # such a one lowered what was agreed and what was billed alike
            steps.append((f"{one} of {day(one.issued_on)}", -one.total))
    return [{"text": text, "amount": digits_text(amount, code)} for text, amount in steps]
