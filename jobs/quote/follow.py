"""The list of offers that wait for an answer: their sums, whether they were opened, what is next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q, QuerySet

from jobs.models import Quote, Shop
from jobs.quote.remind import next_reminder


@dataclass(frozen=True, slots=True)
class Waiting:
    """One offer that is out: ``quote`` is the recommended option, or the only one."""

    quote: Quote
    is_expired: bool
    days_out: int
    reminder_at: datetime | None
    asked: int

    @property
    def needs_us(self) -> bool:
        """Return whether the shop has to do something."""
        return self.is_expired or self.asked > 0


def offers_waiting(shop: Shop, *, at: datetime, today: date) -> list[Waiting]:
    """Return the shop's offers without an answer, those that need something first, then the oldest."""
    found: dict[tuple[int, int | None], Waiting] = {}
    for quote in _rows(shop):
        key = (quote.job_id, quote.offer_id or -quote.pk)
        is_best = quote.offer is not None and quote.offer.recommended_id == quote.pk
        if key not in found or is_best:
            found[key] = _waiting(quote, at, today)
    return sorted(found.values(), key=lambda each: (not each.needs_us, each.quote.sent_at))


def _waiting(quote: Quote, at: datetime, today: date) -> Waiting:
    assert quote.sent_at is not None
    is_expired = quote.is_expired(on=today)
    waits = getattr(quote, "asked", 0)
    has_letter = quote.job.vehicle.customer.email and not is_expired and not waits
    return Waiting(
        quote, is_expired, (at - quote.sent_at).days, next_reminder(quote) if has_letter else None, waits
    )


def _rows(shop: Shop) -> QuerySet[Quote]:
    asked = Q(job__messages__settled_at=None)
    rows = Quote.objects.of_shop(shop).filter(state=Quote.State.SENT)
    related = ("job__shop", "job__vehicle__customer", "design", "offer")
    return rows.select_related(*related).annotate(asked=Count("job__messages", filter=asked, distinct=True))
