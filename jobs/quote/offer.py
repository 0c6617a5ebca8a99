"""An offer of up to three options: put together, changed, taken apart, sent; one link, one answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from common.told import in_english
from jobs.models import Design, GuestLink, Job, Offer, Quote
from jobs.quote.compare import offer_document, option_name
from jobs.quote.document import content_sha256
from jobs.quote.draft import QuoteRefused, lock_job, locked_quote, must_be_draft, quote_create
from jobs.quote.proposal import Trip
from jobs.quote.send import job_to_quoted, put_out, quote_link, run_of_today
from jobs.shop.log import log
from jobs.shop.rights import require

#: A fourth column nobody compares. A limit of ours, no source.
MOST_OPTIONS: Final = 3
S = Quote.State


@dataclass(frozen=True, slots=True)
class OptionWords:
    """What an option is called and what it is for."""

    name: str
    purpose: str


@in_english
@transaction.atomic
def offer_make(
    *,
    job: Job,
    designs: Sequence[Design],
    recommended: Design | None,
    actor: User,
    at: datetime,
    trip: Trip | None = None,
    survey_fee_paid: Decimal = Decimal(0),
    by_band: bool = False,
) -> Offer:
    """Put designs of a job side by side: each takes its newest draft, or a quote is begun on it.

    Raise QuoteRefused for none, too many, one of another job, or two of one plan; SumsAreOld as quote_create.
    """
    require(actor, job.shop, "may_design")
    lock_job(pk=job.pk)  # numbers are given one at a time
    _refuse_designs(job, designs)
    offer = Offer.objects.create(job=job, number=_next_number(job), created_at=at)
    for design in designs:
        quote = job.quotes.filter(design=design, state=S.DRAFT, offer=None).first() or quote_create(
            design=design, actor=actor, at=at, trip=trip, survey_fee_paid=survey_fee_paid, by_band=by_band
        )
        Quote.objects.filter(pk=quote.pk).update(offer=offer)
        if recommended is not None and design.pk == recommended.pk:
            offer.recommended_id = quote.pk
    offer.save(update_fields=["recommended"])
    log(shop=job.shop, job=job, actor=actor, verb="offer begun", detail=str(offer), at=at)
    return offer


@in_english
@transaction.atomic
def offer_change(
    *, offer: Offer, words: Mapping[int, OptionWords], recommended: int | None, actor: User, at: datetime
) -> Offer:
    """Name the options of a draft offer, by quote, and say which is recommended."""
    offer, quotes = _locked_draft(offer, actor)
    for quote in quotes:
        if quote.pk in words:
            quote.option_name, quote.option_purpose = words[quote.pk].name, words[quote.pk].purpose
            quote.save(update_fields=["option_name", "option_purpose"])
    offer.recommended_id = recommended if recommended in {quote.pk for quote in quotes} else None
    offer.save(update_fields=["recommended"])
    log(shop=offer.job.shop, job=offer.job, actor=actor, verb="offer changed", detail=str(offer), at=at)
    return offer


@in_english
@transaction.atomic
def offer_take_apart(*, offer: Offer, actor: User, at: datetime) -> None:
    """Take a draft offer apart: its quotes stay, each on its own."""
    offer, quotes = _locked_draft(offer, actor)
    Quote.objects.filter(pk__in=[quote.pk for quote in quotes]).update(offer=None)
    log(shop=offer.job.shop, job=offer.job, actor=actor, verb="offer taken apart", detail=str(offer), at=at)
    offer.delete()


@in_english
@transaction.atomic
def offer_send(
    *, offer: Offer, actor: User, at: datetime, reason: str = "", site_url: str = ""
) -> tuple[GuestLink, str]:
    """Freeze all options as sent and return the one link that shows them, with its token, this once.

    Raise QuoteRefused for what forbids it, with the name of the option it is about.
    """
    offer, quotes = _locked_draft(offer, actor)
    if not quotes:
        raise QuoteRefused("There is no option in this offer.")
    for quote in quotes:
        quote.run = run_of_today(quote, actor, at)
    for quote in quotes:
        _put_out(quote, quotes, actor, at, reason)
    offer.recommended = next((quote for quote in quotes if quote.pk == offer.recommended_id), None)
    offer.snapshot = offer_document(quotes, offer.recommended, offer.job.shop)
    offer.content_sha256, offer.sent_at = content_sha256(offer.snapshot), at
    offer.save()
    older = offer.job.quotes.filter(state=S.SENT).exclude(offer=offer)
    older.update(state=S.SUPERSEDED, answer_note=f"Replaced by {offer}")
    job_to_quoted(offer.job, actor, at)
    log(shop=offer.job.shop, job=offer.job, actor=actor, verb="offer sent", detail=str(offer), at=at)
    return quote_link(quote=offer.recommended or quotes[0], actor=actor, at=at, site_url=site_url)


def preview_of(offer: Offer, quotes: Sequence[Quote]) -> dict[str, Any] | None:
    """Return the comparison as frozen, or as it would read today; None while an option was never sized."""
    if offer.snapshot is not None:
        frozen: dict[str, Any] = offer.snapshot
        return frozen
    if not quotes or any(quote.run is None for quote in quotes):
        return None
    recommended = next((quote for quote in quotes if quote.pk == offer.recommended_id), None)
    return offer_document(quotes, recommended, offer.job.shop)


def _put_out(quote: Quote, quotes: Iterable[Quote], actor: User, at: datetime, reason: str) -> None:
    beside = [other for other in quotes if other.pk != quote.pk]
    try:
        put_out(quote, run=quote.run, actor=actor, at=at, reason=reason, beside=beside)
    except QuoteRefused as refusal:
        raise QuoteRefused(f"{option_name(quote)} ({quote}): {refusal}") from refusal


def _locked_draft(offer: Offer, actor: User) -> tuple[Offer, list[Quote]]:
    """Return the offer and its quotes, lowest price first, locked for a change."""
    lock_job(pk=offer.job_id)
    offer = Offer.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=offer.pk)
    require(actor, offer.job.shop, "may_design")
    if not offer.is_draft:
        raise QuoteRefused(f"{offer} has been sent and cannot be changed. Make a new offer to change it.")
    quotes = [locked_quote(quote) for quote in offer.quotes.order_by("pk")]
    for quote in quotes:
        must_be_draft(quote)
    return offer, sorted(quotes, key=lambda quote: quote.total)


def _refuse_designs(job: Job, designs: Sequence[Design]) -> None:
    if not 1 <= len(designs) <= MOST_OPTIONS:
        raise QuoteRefused(f"An offer holds one to three designs; you chose {len(designs)}.")
    if any(design.job_id != job.pk for design in designs):
        raise QuoteRefused("A design of another job cannot be offered here.")
    if len({design.option for design in designs}) != len(designs):
        raise QuoteRefused("Two of these designs are of the same plan: choose one of them.")


def _next_number(job: Job) -> int:
    return (job.offers.aggregate(last=Max("number"))["last"] or 0) + 1
