"""Reminds customers who have not answered an offer, on the days the shop sets, until they do."""

from __future__ import annotations

import zoneinfo
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from common.told import in_english
from jobs.models import CustomerMessage, Quote
from jobs.quote.guest_link import link_create, link_url
from jobs.quote.send import LINK_DAYS_AFTER_OFFER
from jobs.shop.actor import ByName
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.outbox import mail_put

#: Letters leave in the shop's day, from and until these hours. [h]
FROM_H: Final = 8
UNTIL_H: Final = 19
_BY: Final = ByName("Coachlight")


def offers_remind(*, at: datetime) -> int:
    """Write the reminders that are due; return how many. Several workers write each of them once."""
    return sum(offer_remind(pk, at=at) for pk in list(_waiting().values_list("pk", flat=True)))


@in_english
@transaction.atomic
def offer_remind(pk: int, *, at: datetime) -> bool:
    """Remind the customer of one quote where its day has come; return whether a letter was written."""
    related = ("job__shop", "job__vehicle__customer")
    quote = Quote.objects.select_for_update(of=("self",)).select_related(*related).get(pk=pk)
    if not _is_due(quote, at):
        return False
    quote.reminders_sent = _days_passed(quote, at)
    quote.save(update_fields=["reminders_sent"])
    lives_days = quote.job.shop.quote_valid_days + LINK_DAYS_AFTER_OFFER
    _, token = link_create(job=quote.job, quote=quote, at=at, expires_at=at + timedelta(days=lives_days))
    _write(quote, link_url(token, site_url=settings.SITE_URL), at)
    log(shop=quote.job.shop, job=quote.job, actor=_BY, verb="customer reminded", detail=str(quote), at=at)
    return True


def next_reminder(quote: Quote) -> datetime | None:
    """Return when the customer is reminded next; None where no reminder is left."""
    days = sorted(quote.job.shop.reminder_days)[quote.reminders_sent :]
    return quote.sent_at + timedelta(days=days[0]) if days and quote.sent_at else None


def _waiting() -> QuerySet[Quote]:
    """Return the quotes that are out and unanswered; of an offer the one its link was made for."""
    asked = CustomerMessage.objects.filter(job=OuterRef("job"), settled_at=None)
    out = Quote.objects.filter(state=Quote.State.SENT).exclude(job__vehicle__customer__email="")
    return out.filter(~Exists(asked), links__revoked_at=None, links__isnull=False).distinct()


def _is_due(quote: Quote, at: datetime) -> bool:
    shop = quote.job.shop
    if quote.state != Quote.State.SENT or quote.is_expired(on=local_date(shop, at)):
        return False
    if not FROM_H <= at.astimezone(zoneinfo.ZoneInfo(shop.time_zone)).hour < UNTIL_H:
        return False
    return _days_passed(quote, at) > quote.reminders_sent


def _days_passed(quote: Quote, at: datetime) -> int:
    """Return how many of the shop's days of reminders have come since it was sent."""
    assert quote.sent_at is not None
    passed = at - quote.sent_at
    return sum(passed >= timedelta(days=day) for day in quote.job.shop.reminder_days)


def _write(quote: Quote, url: str, at: datetime) -> None:
    customer, shop = quote.job.vehicle.customer, quote.job.shop
    what = "offer" if quote.offer_id else "quote"
    until = f"{quote.valid_until_date:%B} {quote.valid_until_date.day}" if quote.valid_until_date else ""
    call = f" or call us at {shop.phone}" if shop.phone else ""
    mail_put(
        to=customer.email,
        subject=f"{shop.name}: our {what} for your {quote.job.vehicle}",
        body=(
            f"Hello {customer.name},\n\nour {what} for your {quote.job.vehicle} is still open, until {until}."
            f" If something is unclear, ask us on its page{call}:\n\n{url}\n\n"
            f"If it is not for you, one click there tells us, and we write no more.\n\n{shop.name}\n"
        ),
        at=at,
        shop=shop,
        job=quote.job,
        about=str(quote),
    )
