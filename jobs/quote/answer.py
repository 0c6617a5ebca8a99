"""Takes the customer's yes or no to a quote."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.customers.job import job_move, next_states
from jobs.design.revision import design_freeze
from jobs.models import Job, LostReason, Quote
from jobs.quote.accepted import quote_accepted
from jobs.quote.agreed import agreed_sums
from jobs.quote.document import day
from jobs.quote.draft import locked_quote
from jobs.quote.tell_shop import tell_shop
from jobs.shop.actor import ByName
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

S = Quote.State
_AGREED: Final = ("chosen_positions", "agreed_subtotal", "agreed_tax", "agreed_total", "agreed_deposit")


class QuoteNotOpen(Refusal):
    """The customer can no longer answer; says why to the customer."""


@in_english
@transaction.atomic
def quote_accept(
    *,
    quote: Quote,
    signed_name: str,
    signature_svg: str,
    at: datetime,
    chosen: Collection[int] = (),
    shown_total: Decimal | None = None,
) -> Quote:
    """Take the customer's yes: freeze quote and design, move the job, open the install record.

    ``chosen`` are the places of the optional lines they took, ``shown_total`` the sum they signed under.
    Raise QuoteNotOpen when it was answered, set aside or has run out, or the name is missing.
    """
    quote = locked_quote(quote)
    name = _open_name(quote, signed_name, at)
    _set_others_aside(quote)
    _agree(quote, chosen, shown_total)
    quote.state, quote.answered_at, quote.accepted_by_name = S.ACCEPTED, at, name
    quote.signature_svg = signature_svg
    quote.save(update_fields=["state", "answered_at", "accepted_by_name", "signature_svg", *_AGREED])
    customer = ByName(name)
    design_freeze(design=quote.design, actor=customer, at=at)
    quote.job = job_move(job=quote.job, to=Job.State.ACCEPTED, actor=customer, at=at)
    log(shop=quote.job.shop, job=quote.job, actor=customer, verb="quote accepted", detail=str(quote), at=at)
    tell_shop(quote=quote, what="Accepted", words=f"{name} accepted {quote}.{_extras_words(quote)}", at=at)
    quote_accepted.send(sender=Quote, quote=quote, at=at)
    return quote


@in_english
@transaction.atomic
def quote_decline(
    *, quote: Quote, signed_name: str, reason: str, at: datetime, lost_reason: str = ""
) -> Quote:
    """Take the customer's no with its reason; the job ends as declined when no other offer is open."""
    quote = locked_quote(quote)
    name = _open_name(quote, signed_name, at, is_yes=False)
    if not reason.strip():
        raise QuoteNotOpen("Please tell us in a few words why it is not right for you.")
    quote.state, quote.answered_at, quote.accepted_by_name = S.DECLINED, at, ""
    quote.answer_note, quote.lost_reason = f"{name}: {reason.strip()}", lost_reason
    quote.save(update_fields=["state", "answered_at", "accepted_by_name", "answer_note", "lost_reason"])
    log(
        shop=quote.job.shop, job=quote.job, actor=ByName(name), verb="quote declined", detail=str(quote),
        reason=reason.strip(), at=at,
    )  # fmt: skip
    if quote.offer_id is not None:  # a no is to the whole offer
        quote.job.quotes.filter(state=S.SENT, offer=quote.offer_id).update(
            state=S.DECLINED, answered_at=at, answer_note=quote.answer_note, lost_reason=quote.lost_reason
        )
    tell_shop(quote=quote, what="Declined", words=f"{name} declined {quote}:\n\n{reason.strip()}", at=at)
    others = quote.job.quotes.filter(state=S.SENT).exclude(pk=quote.pk)
    if not others.exists() and Job.State.DECLINED in next_states(quote.job):
        job_move(job=quote.job, to=Job.State.DECLINED, actor=ByName(name), at=at, reason=reason.strip())
    return quote


@in_english
@transaction.atomic
def quote_lost(*, quote: Quote, lost_reason: str, note: str, actor: User, at: datetime) -> Quote:
    """Close an offer the customer will not take, as the shop learned it; its other options close with it."""
    quote = locked_quote(quote)
    require(actor, quote.job.shop, "may_design")
    if quote.state != S.SENT:
        raise QuoteNotOpen("Only an offer that is out and not answered can be closed as lost.")
    if lost_reason not in LostReason.values:
        raise QuoteNotOpen("Say why it was lost.")
    rows = quote.job.quotes.filter(state=S.SENT)
    rows = rows.filter(offer=quote.offer_id) if quote.offer_id else rows.filter(pk=quote.pk)
    rows.update(state=S.DECLINED, answered_at=at, lost_reason=lost_reason, answer_note=note.strip()[:1000])
    words = f"{LostReason(lost_reason).label}. {note.strip()}".strip()
    log(
        shop=quote.job.shop, job=quote.job, actor=actor, verb="offer lost", detail=str(quote), reason=words,
        at=at,
    )  # fmt: skip
    if not quote.job.quotes.filter(state=S.SENT).exists() and Job.State.DECLINED in next_states(quote.job):
        job_move(job=quote.job, to=Job.State.DECLINED, actor=actor, at=at, reason=words)
    return Quote.objects.get(pk=quote.pk)


def _agree(quote: Quote, chosen: Collection[int], shown_total: Decimal | None) -> None:
    """Write down what the customer owes: the quote with the extras they took."""
    sums = agreed_sums(quote, chosen)
    if sums is None:
        raise QuoteNotOpen("One of the extras you ticked is not part of this quote. Please read it again.")
    if shown_total is not None and shown_total != sums.total:
        raise QuoteNotOpen("The total has changed with what you ticked. Please read it again, then sign.")
    quote.chosen_positions = sorted(set(chosen))
    quote.agreed_subtotal, quote.agreed_tax = sums.subtotal, sums.tax
    quote.agreed_total, quote.agreed_deposit = sums.total, sums.deposit


def _extras_words(quote: Quote) -> str:
    """Return the extras taken, for the letter to the shop; no amount stands in a letter."""
    taken = quote.lines.filter(is_optional=True, position__in=quote.chosen_positions)
    named = "; ".join(taken.values_list("text", flat=True))
    return f" With: {named}." if named else ""


def _set_others_aside(quote: Quote) -> None:
    """Set aside every other offer that is out, and an earlier yes when the job was designed again."""
    others = quote.job.quotes.filter(state__in=[S.SENT, S.ACCEPTED]).exclude(pk=quote.pk)
    others.update(state=S.SUPERSEDED, answer_note=f"{quote} was accepted instead")


def _open_name(quote: Quote, signed_name: str, at: datetime, *, is_yes: bool = True) -> str:
    """Return the name signed with; raise QuoteNotOpen when the customer cannot answer any more."""
    name = " ".join(signed_name.split())
    if quote.state != S.SENT:
        raise QuoteNotOpen(_WHY_NOT_OPEN.get(quote.state, "This quote cannot be answered."))
    if is_yes and quote.is_expired(on=local_date(quote.job.shop, at)):
        assert quote.valid_until_date is not None
        raise QuoteNotOpen(
            f"This quote was good until {day(quote.valid_until_date)}. Prices may have changed"
            " since: please ask us to price it again."
        )
    if len(name) < 2:
        raise QuoteNotOpen("Please type your full name.")
    if is_yes and Job.State.ACCEPTED not in next_states(quote.job):
        raise QuoteNotOpen("This job is no longer open for an answer. Please call the shop.")
    return name[:150]


_WHY_NOT_OPEN: Final[dict[str, str]] = {
    S.ACCEPTED: "This quote has already been accepted.",
    S.DECLINED: "This quote has already been declined.",
    S.SUPERSEDED: "This quote was replaced by another one. Please use the newest link, or call the shop.",
    S.EXPIRED: "This quote has expired. Please ask us to price it again.",
    S.DRAFT: "This quote is not ready yet.",
}
