"""What a customer's page shows: one quote or its options side by side, with the extras ticked so far."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from jobs.models import CustomerMessage, Offer, Quote
from jobs.quote.agreed import Agreed, agreed_sums
from jobs.quote.messages import thread


@dataclass(frozen=True, slots=True)
class Shown:
    """The option a customer looks at, in the words that were sent, and what it comes to with their extras."""

    quote: Quote
    doc: dict[str, Any]
    offer: Offer | None
    comparison: dict[str, Any] | None
    chosen: frozenset[int]
    sums: Agreed
    messages: list[CustomerMessage]
    options: list[Quote]

    @property
    def content_sha256(self) -> str:
        """Return the hash of all words shown: an answer is bound to it."""
        return self.offer.content_sha256 if self.offer else self.quote.content_sha256


def shown(quote: Quote, *, number: int | None, chosen: Collection[int]) -> Shown:
    """Return what the link of this quote shows, with the option of this number chosen.

    An accepted option stands before all; one of another offer, or an extra it has not, is passed over.
    """
    offer = quote.offer if quote.offer_id and quote.offer and quote.offer.snapshot else None
    options = (
        [] if offer is None else list(offer.quotes.select_related("job__shop", "design").order_by("total"))
    )
    quote = _option(options, quote, number)
    if quote.is_accepted:
        chosen = quote.chosen_positions
    lines = list(quote.lines.all())
    extras = {line.position for line in lines if line.is_optional}
    kept = frozenset(extras.intersection(chosen))
    sums = agreed_sums(quote, kept, lines)
    assert sums is not None  # every place in ``kept`` is an extra of it
    comparison = offer.snapshot if offer else None
    return Shown(quote, quote.snapshot or {}, offer, comparison, kept, sums, thread(quote), options)


def _option(options: list[Quote], own: Quote, number: int | None) -> Quote:
    """Return the accepted option, else the one asked for, else the one the link was made for."""
    options = [each for each in options if each.snapshot is not None]
    accepted = [each for each in options if each.is_accepted]
    asked = [each for each in options if each.number == number]
    return next(iter([*accepted, *asked, *[each for each in options if each.pk == own.pk]]), own)
