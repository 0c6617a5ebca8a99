"""What changed since the customer last read an offer of the same plan: lines that came, went or moved."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from common.currency import money_text
from jobs.models import Quote, QuoteLine

#: More changes than these are not read one by one.
NAMED = 8


def earlier_of(quote: Quote) -> Quote | None:
    """Return the newest earlier quote of the same plan that was sent; None where there is none."""
    same = quote.job.quotes.filter(design__option=quote.design.option, number__lt=quote.number)
    return same.filter(snapshot__isnull=False).order_by("-number").first()


def changes_since(quote: Quote, shown: Iterable[QuoteLine]) -> list[str]:
    """Return the changes since the earlier quote, in the words of what was sent; no cost stands in them."""
    earlier = earlier_of(quote)
    if earlier is None or earlier.snapshot is None:
        return []
    currency = quote.job.shop.currency
    was = _amounts((row["text"], row["amount"]) for row in _sold(earlier.snapshot))
    now = _amounts((line.text, line.amount) for line in shown if not line.is_optional)
    words = [f"No longer: {text}." for text in was if text not in now]
    words += [
        f"New: {text}, {money_text(amount, currency)}." for text, amount in now.items() if text not in was
    ]
    words += [
        f"{text}: {money_text(was[text], currency)} → {money_text(amount, currency)}."
        for text, amount in now.items()
        if text in was and was[text] != amount
    ]
    if len(words) > NAMED:
        words = [*words[:NAMED], f"And {len(words) - NAMED} more lines."]
    before = Decimal(earlier.snapshot["totals"]["total"])
    if before != quote.total:
        words.append(f"Total: {money_text(before, currency)} → {money_text(quote.total, currency)}.")
    return words


def _sold(document: dict[str, Any]) -> list[dict[str, Any]]:
    lines: list[dict[str, Any]] = document["lines"]
    return lines


def _amounts(rows: Iterable[tuple[str, Any]]) -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    for text, amount in rows:
        found[text] = found.get(text, Decimal(0)) + Decimal(amount)
    return found
