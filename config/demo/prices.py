"""Prices the demo's shop is asked for while it quotes: invented, like everything here."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from jobs.models import LineKind, Quote
from jobs.quote.draft import quote_create
from jobs.quote.prices import can_be_asked, prices_fill

#: What the shop pays where the line names a part; a battery taken back brings its core value.
_COSTS: Final = {
    "Cable 3/0 AWG": "7.80",
    "Cable 3 AWG": "2.95",
    "Fuse or breaker 20 A": "6.50",
    "Fuse or breaker 40 A": "11.00",
    "Fuse or breaker 60 A": "18.50",
    "Fuse or breaker 80 A": "21.00",
    "Fuse or breaker 125 A": "26.00",
}
_USUAL: Final = {str(LineKind.PART): "15.00", str(LineKind.DISPOSAL): "-9.00"}


def quote_priced(*, design: Any, owner: Any, at: datetime) -> Quote:
    """Return a new quote on the design with every price that was missing filled in."""
    quote = quote_create(design=design, actor=owner, at=at)
    asked = [line for line in quote.lines.all() if can_be_asked(line)]
    prices = {line.pk: Decimal(_COSTS.get(line.text, _USUAL.get(str(line.kind), "25.00"))) for line in asked}
    return prices_fill(quote=quote, prices=prices, edits=quote.edits, actor=owner, at=at)
