"""Sends a quote to the customer: what forbids it, its frozen document, its link, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.customers.job import job_move, next_states
from jobs.design.revision import design_freeze, design_size
from jobs.engine.stored import design_in_full, latest_run
from jobs.models import GuestLink, Job, Quote, SizingRun
from jobs.quote.checks import review_reasons, send_check
from jobs.quote.document import content_sha256, quote_document
from jobs.quote.draft import QuoteRefused, locked_quote, must_be_draft
from jobs.quote.guest_link import link_create, links_revoke_all
from jobs.quote.guest_mail import mail_link
from jobs.shop.actor import Actor, name_of
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.rights import require

#: A link outlives its offer, so that the customer can still read what ran out. A starting value. [days]
LINK_DAYS_AFTER_OFFER: Final = 60


S = Quote.State


@in_english
@transaction.atomic
def quote_send(
    *, quote: Quote, actor: User, at: datetime, reason: str = "", site_url: str = ""
) -> tuple[GuestLink, str]:
    """Freeze the draft as sent and return the customer's link with its token, shown this once.

    The design is sized once more and frozen with it: what the customer reads cannot change under their eyes.
    Raise QuoteRefused for what forbids it; the owner passes a block or a thin margin with a reason.
    """
    quote = locked_quote(quote)
    require(actor, quote.job.shop, "may_design")
    if quote.offer_id is not None:
        raise QuoteRefused(f"{quote} is one of the options of an offer: send the offer.")
    quote = put_out(quote, run=run_of_today(quote, actor, at), actor=actor, at=at, reason=reason)
    _set_older_aside(quote)
    job_to_quoted(quote.job, actor, at)
    return quote_link(quote=quote, actor=actor, at=at, site_url=site_url)


def put_out(
    quote: Quote,
    *,
    run: SizingRun | None,
    actor: User,
    at: datetime,
    reason: str,
    beside: Sequence[Quote] = (),
) -> Quote:
    """Freeze a locked draft as sent, or raise QuoteRefused; ``beside`` are the other options of its offer."""
    membership = require(actor, quote.job.shop, "may_design")
    must_be_draft(quote)
    quote.run = run
    _refuse_to_send(quote, is_owner=membership.is_owner, reason=reason, actor=actor)
    design_freeze(design=quote.design, actor=actor, at=at)
    today = local_date(quote.job.shop, at)
    quote.valid_until_date = today + timedelta(days=quote.job.shop.quote_valid_days)
    quote.state, quote.sent_at = S.SENT, at
    quote.snapshot = document_of(quote, on=today, beside=beside)
    quote.content_sha256 = content_sha256(quote.snapshot)
    quote.full_clean(validate_unique=False)
    quote.save()
    log(
        shop=quote.job.shop,
        job=quote.job,
        actor=actor,
        verb="quote sent",
        detail=str(quote),
        reason=reason,
        at=at,
    )
    return quote


@in_english
@transaction.atomic
def quote_link(*, quote: Quote, actor: User, at: datetime, site_url: str = "") -> tuple[GuestLink, str]:
    """Make a new link to a quote that is out and mail it; links made before stop working."""
    require(actor, quote.job.shop, "may_design")
    if quote.is_draft or quote.valid_until_date is None:
        raise QuoteRefused("A draft has no link: send the quote first.")
    links_revoke_all(at=at, quote=quote)
    lives_days = quote.job.shop.quote_valid_days + LINK_DAYS_AFTER_OFFER
    link, token = link_create(job=quote.job, quote=quote, at=at, expires_at=at + timedelta(days=lives_days))
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="guest link made", detail=str(quote), at=at)
    what = str(quote.offer or quote)
    mail_link(job=quote.job, what=what, token=token, at=at, site_url=site_url, about=str(quote))
    return link, token


@in_english
@transaction.atomic
def quote_withdraw(*, quote: Quote, reason: str, actor: User, at: datetime) -> Quote:
    """Take back a quote that is out: it stays readable and can no longer be accepted."""
    quote = locked_quote(quote)
    require(actor, quote.job.shop, "may_design")
    if quote.state != S.SENT:
        raise QuoteRefused("Only a quote that has been sent and not yet answered can be withdrawn.")
    quote.state, quote.answer_note = S.SUPERSEDED, reason
    quote.save(update_fields=["state", "answer_note"])
    log(
        shop=quote.job.shop, job=quote.job, actor=actor, verb="quote taken back", detail=str(quote),
        reason=reason, at=at,
    )  # fmt: skip
    return quote


def document_of(quote: Quote, *, on: date, beside: Sequence[Quote] | None = None) -> dict[str, Any]:
    """Return what the customer reads: as frozen when it was sent, or as it would read if sent on this day."""
    if quote.snapshot is not None:
        frozen: dict[str, Any] = quote.snapshot
        return frozen
    quote.design = design_in_full(quote.design_id)
    valid_until = quote.valid_until_date or on + timedelta(days=quote.job.shop.quote_valid_days)
    return quote_document(
        quote=quote,
        lines=quote.lines.all(),
        scope=quote.scope_items.all(),
        sent_on=on,
        valid_until=valid_until,
        beside=_beside(quote) if beside is None else beside,
    )


def _beside(quote: Quote) -> list[Quote]:
    """Return the other options of the quote's offer, as they stand."""
    if quote.offer is None:
        return []
    return list(quote.offer.quotes.exclude(pk=quote.pk).select_related("design", "run"))


def run_of_today(quote: Quote, actor: Actor, at: datetime) -> SizingRun | None:
    """Return the answer the quote is sent on: sized now, unless the design is frozen already."""
    if quote.design.is_frozen:
        return latest_run(quote.design)
    return design_size(design=quote.design, actor=actor, at=at)


def _refuse_to_send(quote: Quote, *, is_owner: bool, reason: str, actor: Actor) -> None:
    """Raise QuoteRefused with one sentence for all that stands in the way; note who let it pass."""
    if quote.job.state not in {Job.State.QUOTED, Job.State.DESIGNING} and not _leads_to_quoted(quote.job):
        raise QuoteRefused(
            f"The job is “{quote.job.get_state_display()}”: price changes go by change order now."
        )
    found = send_check(quote, quote.run)
    if found.refusals:
        raise QuoteRefused(" ".join(found.refusals))
    if found.for_owner and not is_owner:
        raise QuoteRefused("Only the owner can send this. " + " ".join(found.for_owner))
    if found.for_owner and not reason.strip():
        raise QuoteRefused("Say why it is sent anyway. " + " ".join(found.for_owner))
    needed = review_reasons(quote)
    if needed and not is_owner and quote.reviewed_at is None:
        raise QuoteRefused(f"A second person has to read it over first: {', '.join(needed)}.")
    if found.for_owner:
        quote.below_margin_ok_by_name, quote.override_reason = name_of(actor), reason.strip()


def _leads_to_quoted(job: Job) -> bool:
    return Job.State.DESIGNING in next_states(job) and job.state != Job.State.ACCEPTED


def job_to_quoted(job: Job, actor: Actor, at: datetime) -> None:
    """Move the job to quoted, through designing where it was not there yet."""
    if Job.State.QUOTED not in next_states(job) and job.state != Job.State.QUOTED:
        job = job_move(job=job, to=Job.State.DESIGNING, actor=actor, at=at)
    job_move(job=job, to=Job.State.QUOTED, actor=actor, at=at)


def _set_older_aside(quote: Quote) -> None:
    """Set aside what was out for the same option; other options stay open beside it."""
    older = quote.job.quotes.filter(state=S.SENT, design__option=quote.design.option).exclude(pk=quote.pk)
    older.update(state=S.SUPERSEDED, answer_note=f"Replaced by {quote}")
