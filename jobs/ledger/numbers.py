"""Gives invoices and receipts their numbers: one more than the last, none left out.

The shop's row of counts is locked until the transaction ends. Who is killed before that gives the number
back; who comes meanwhile waits. So everything that is written into a shop's books is written one by one.
"""

from __future__ import annotations

from jobs.models import LedgerCount, Shop


def books_lock(shop: Shop) -> LedgerCount:
    """Return the shop's counts, locked until the transaction ends."""
    LedgerCount.objects.get_or_create(shop=shop)
    return LedgerCount.objects.select_for_update(of=("self",)).get(shop=shop)


def next_invoice(count: LedgerCount) -> int:
    """Return the next invoice's number."""
    count.invoices += 1
    count.save(update_fields=["invoices"])
    return count.invoices


def next_receipt(count: LedgerCount) -> int:
    """Return the next receipt's number."""
    count.receipts += 1
    count.save(update_fields=["receipts"])
    return count.receipts
