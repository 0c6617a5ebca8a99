"""What a customer agrees to: the quote with the extras they ticked, to the cent."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobs.models import Quote, QuoteLine
from jobs.quote import money
from jobs.quote.draft import tax_of


@dataclass(frozen=True, slots=True)
class Agreed:
    """The sums of a quote with the extras taken; ``extras`` are the lines themselves."""

    subtotal: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    extras: tuple[QuoteLine, ...]

    @property
    def balance(self) -> Decimal:
        """Return what is left after the deposit."""
        return self.total - self.deposit


def agreed_sums(
    quote: Quote, chosen: Collection[int], lines: Sequence[QuoteLine] | None = None
) -> Agreed | None:
    """Return what the quote comes to with the optional lines at these positions; None for a position that is
    no optional line of it.

    The lines of the quote stay as they were sent, also a share of the parts cost: an extra adds its own
    amount and its tax, nothing else.
    """
    lines = list(quote.lines.all()) if lines is None else lines
    extras = tuple(line for line in lines if line.is_optional and line.position in chosen)
    if len(extras) != len(set(chosen)):
        return None
    if not extras:
        return Agreed(quote.subtotal, quote.tax, quote.total, quote.deposit, ())
    sums = money.totals(
        lines,
        tax=tax_of(quote),
        deposit_fraction=quote.deposit_fraction,
        currency=quote.job.shop.currency,
        chosen=chosen,
    )
    return Agreed(sums.subtotal, sums.tax, sums.total, sums.deposit, extras)
