"""Knows how a quote begins, is priced and read over, goes out, and is answered."""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db import transaction
from django.db.models import Max

from jobs.customers.job import job_move, next_states
from jobs.design.revision import design_freeze, design_size
from jobs.engine.stored import design_in_full, is_current, latest_run
from jobs.models import Design, GuestLink, Job, Quote, QuoteLine, ScopeItem, Shop, SizingRun
from jobs.quote import money
from jobs.quote.accepted import quote_accepted
from jobs.quote.checks import review_reasons, send_check
from jobs.quote.document import content_sha256, day, quote_document
from jobs.quote.guest_link import link_create, links_revoke_all
from jobs.quote.guest_mail import mail_link
from jobs.quote.lines import LineDraft, Rates, draft_of, priced, stored
from jobs.quote.proposal import ScopeDraft, Trip, propose
from jobs.shop.log import log, name_of
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: A link outlives its offer, so that the customer can still read what ran out. A starting value. [days]
LINK_DAYS_AFTER_OFFER: Final = 60
S = Quote.State


class QuoteRefused(Refusal):
    """The quote may not be changed or sent so; says why to the person at the desk."""


class QuoteNotOpen(Refusal):
    """The customer can no longer answer; says why to the customer."""


class SumsAreOld(QuoteRefused):
    """The design was sized before survey, vehicle or catalogue changed."""


@dataclass(frozen=True, slots=True)
class QuoteTerms:
    """What is typed beside the lines: words, tax, deposit."""

    title: str
    summary: str
    tax_fraction: Decimal
    tax_on_parts: bool
    tax_on_labour: bool
    tax_exempt_text: str
    deposit_fraction: Decimal

    @property
    def tax(self) -> money.TaxRule:
        """Return the tax as the sums want it."""
        return money.TaxRule(
            self.tax_fraction, self.tax_on_parts, self.tax_on_labour, is_exempt=bool(self.tax_exempt_text)
        )


def terms_of(quote: Quote) -> QuoteTerms:
    """Return a quote's terms as stored."""
    return QuoteTerms(
        quote.title,
        quote.summary,
        quote.tax_fraction,
        quote.tax_on_parts,
        quote.tax_on_labour,
        quote.tax_exempt_text,
        quote.deposit_fraction,
    )


def sums_of(
    *, quote: Quote, terms: QuoteTerms, lines: Sequence[LineDraft]
) -> tuple[list[LineDraft], money.Totals]:
    """Return the lines priced and what they come to, without saving: the live total asks just this."""
    shop = quote.job.shop
    rates = Rates(shop.labour_rate, shop.pair_rate, quote.labour_cost, quote.mile_cost, shop.markup)
    done = priced(lines, rates)
    return done, money.totals(done, tax=terms.tax, deposit_fraction=terms.deposit_fraction)


@transaction.atomic
def quote_create(
    *,
    design: Design,
    actor: Any,
    at: datetime,
    trip: Trip | None = None,
    survey_fee_paid: Decimal = Decimal(0),
    by_band: bool = False,
) -> Quote:
    """Start a quote on a design: parts, hours, consumables, travel, allowances and scope are proposed.

    Raise SumsAreOld where the design was sized before something it rests on changed.
    """
    full = design_in_full(design.pk)
    shop = full.job.shop
    require(actor, shop, "may_design")
    run = _fresh_run(full)
    quote = _new_quote(full, run, actor)
    proposal = propose(
        design=full, shop=shop, run=run, trip=trip or Trip(), survey_fee_paid=survey_fee_paid, by_band=by_band
    )
    _store(quote, terms_of(quote), proposal.lines, proposal.scope)
    log(shop=shop, job=full.job, actor=actor, verb="quote begun", detail=str(quote), at=at)
    return quote


def stale_words(design: Design) -> str:
    """Return why no quote can be begun on a design's sums, blank where it can."""
    full = design_in_full(design.pk)
    run = latest_run(full)
    return "" if run is None or is_current(full, run) else _stale_words(full)


@transaction.atomic
def quote_copy(*, quote: Quote, actor: Any, at: datetime) -> Quote:
    """Start a new draft with the lines and scope of another quote of the job; the old one stays as it was."""
    require(actor, quote.job.shop, "may_design")
    design = design_in_full(quote.design_id)
    fresh = _new_quote(design, _fresh_run(design), actor)
    lines = [draft_of(line) for line in quote.lines.all()]
    scope = [ScopeDraft(item.text, item.answer, item.note) for item in quote.scope_items.all()]
    _store(fresh, terms_of(quote), lines, scope)
    detail = f"{fresh} from {quote}"
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="quote copied", detail=detail, at=at)
    return fresh


@transaction.atomic
def quote_price(
    *,
    quote: Quote,
    terms: QuoteTerms,
    lines: Sequence[LineDraft],
    scope: Sequence[ScopeDraft],
    edits: int,
    actor: Any,
    at: datetime,
) -> Quote:
    """Replace a draft's lines, scope and terms; ``edits`` is the count the person's page was made with."""
    quote = _locked(quote)
    require(actor, quote.job.shop, "may_design")
    _must_be_draft(quote)
    if quote.edits != edits:
        raise QuoteRefused(
            "Somebody else changed this quote while you were typing. Your entries are still in the form: open"
            " the quote in another window, compare, then save again."
        )
    before, quote.written_by = quote.total, actor
    _store(quote, terms, lines, scope)
    detail = f"{quote}: {before} to {quote.total}"
    log(
        shop=quote.job.shop,
        job=quote.job,
        actor=actor,
        verb="quote priced",
        detail=detail,
        shows_prices=True,
        at=at,
    )
    return quote


@transaction.atomic
def quote_review(*, quote: Quote, actor: Any, at: datetime) -> Quote:
    """Note that a second person read the draft over; whoever wrote it cannot."""
    quote = _locked(quote)
    require(actor, quote.job.shop, "may_design")
    _must_be_draft(quote)
    if quote.written_by_id == actor.pk:
        raise QuoteRefused("Somebody else has to read it over: you wrote it.")
    quote.reviewed_at, quote.reviewed_by_name = at, name_of(actor)
    quote.save(update_fields=["reviewed_at", "reviewed_by_name"])
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="quote read over", detail=str(quote), at=at)
    return quote


@transaction.atomic
def quote_send(
    *, quote: Quote, actor: Any, at: datetime, reason: str = "", site_url: str = ""
) -> tuple[GuestLink, str]:
    """Freeze the draft as sent and return the customer's link with its token, shown this once.

    The design is sized once more and frozen with it: what the customer reads cannot change under their eyes.
    Raise QuoteRefused for what forbids it; the owner passes a block or a thin margin with a reason.
    """
    quote = _locked(quote)
    membership = require(actor, quote.job.shop, "may_design")
    _must_be_draft(quote)
    quote.run = _run_of_today(quote, actor, at)
    _refuse_to_send(quote, is_owner=membership.is_owner, reason=reason, actor=actor)
    design_freeze(design=quote.design, actor=actor, at=at)
    today = local_date(quote.job.shop, at)
    quote.valid_until_date = today + timedelta(days=quote.job.shop.quote_valid_days)
    quote.state, quote.sent_at = S.SENT, at
    quote.snapshot = document_of(quote, on=today)
    quote.content_sha256 = content_sha256(quote.snapshot)
    quote.full_clean(validate_unique=False)
    quote.save()
    _set_older_aside(quote)
    _job_to_quoted(quote.job, actor, at)
    log(
        shop=quote.job.shop,
        job=quote.job,
        actor=actor,
        verb="quote sent",
        detail=str(quote),
        reason=reason,
        at=at,
    )
    return quote_link(quote=quote, actor=actor, at=at, site_url=site_url)


@transaction.atomic
def quote_link(*, quote: Quote, actor: Any, at: datetime, site_url: str = "") -> tuple[GuestLink, str]:
    """Make a new link to a quote that is out and mail it; links made before stop working."""
    require(actor, quote.job.shop, "may_design")
    if quote.is_draft or quote.valid_until_date is None:
        raise QuoteRefused("A draft has no link: send the quote first.")
    links_revoke_all(at=at, quote=quote)
    lives_days = quote.job.shop.quote_valid_days + LINK_DAYS_AFTER_OFFER
    link, token = link_create(job=quote.job, quote=quote, at=at, expires_at=at + timedelta(days=lives_days))
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="guest link made", detail=str(quote), at=at)
    mail_link(job=quote.job, what=f"Quote {quote.number}", token=token, site_url=site_url)
    return link, token


@transaction.atomic
def quote_withdraw(*, quote: Quote, reason: str, actor: Any, at: datetime) -> Quote:
    """Take back a quote that is out: it stays readable and can no longer be accepted."""
    quote = _locked(quote)
    require(actor, quote.job.shop, "may_design")
    if quote.state != S.SENT:
        raise QuoteRefused("Only a quote that is out and not answered can be taken back.")
    quote.state, quote.answer_note = S.SUPERSEDED, reason
    quote.save(update_fields=["state", "answer_note"])
    log(
        shop=quote.job.shop, job=quote.job, actor=actor, verb="quote taken back", detail=str(quote),
        reason=reason, at=at,
    )  # fmt: skip
    return quote


@transaction.atomic
def quote_accept(*, quote: Quote, signed_name: str, signature_svg: str, at: datetime) -> Quote:
    """Take the customer's yes: freeze quote and design, move the job, open the install record.

    Raise QuoteNotOpen when it was answered, set aside or has run out, or the name is missing.
    """
    quote = _locked(quote)
    name = _open_name(quote, signed_name, at)
    _set_others_aside(quote)
    quote.state, quote.answered_at, quote.accepted_by_name = S.ACCEPTED, at, name
    quote.signature_svg = signature_svg
    quote.save(update_fields=["state", "answered_at", "accepted_by_name", "signature_svg"])
    design_freeze(design=quote.design, actor=name, at=at)
    quote.job = job_move(job=quote.job, to=Job.State.ACCEPTED, actor=name, at=at)
    log(shop=quote.job.shop, job=quote.job, actor=name, verb="quote accepted", detail=str(quote), at=at)
    quote_accepted.send(sender=Quote, quote=quote, at=at)
    return quote


@transaction.atomic
def quote_decline(*, quote: Quote, signed_name: str, reason: str, at: datetime) -> Quote:
    """Take the customer's no with its reason; the job ends as declined when no other offer is open."""
    quote = _locked(quote)
    name = _open_name(quote, signed_name, at, is_yes=False)
    if not reason.strip():
        raise QuoteNotOpen("Please tell us in a few words why it is not right for you.")
    quote.state, quote.answered_at, quote.accepted_by_name = S.DECLINED, at, ""
    quote.answer_note = f"{name}: {reason.strip()}"
    quote.save(update_fields=["state", "answered_at", "accepted_by_name", "answer_note"])
    log(
        shop=quote.job.shop, job=quote.job, actor=name, verb="quote declined", detail=str(quote),
        reason=reason.strip(), at=at,
    )  # fmt: skip
    others = quote.job.quotes.filter(state=S.SENT).exclude(pk=quote.pk)
    if not others.exists() and Job.State.DECLINED in next_states(quote.job):
        job_move(job=quote.job, to=Job.State.DECLINED, actor=name, at=at, reason=reason.strip())
    return quote


def document_of(quote: Quote, *, on: date) -> dict[str, Any]:
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
    )


def local_date(shop: Shop, at: datetime) -> date:
    """Return the day it is at the shop."""
    return at.astimezone(zoneinfo.ZoneInfo(shop.time_zone)).date()


def _locked(quote: Quote) -> Quote:
    related = ("job__shop", "job__survey", "job__vehicle__customer", "design", "run")
    return Quote.objects.select_for_update(of=("self",)).select_related(*related).get(pk=quote.pk)


def _must_be_draft(quote: Quote) -> None:
    if not quote.is_draft:
        raise QuoteRefused(f"{quote} was sent and stays as it is. Copy it to a new quote to change it.")


def _new_quote(design: Design, run: SizingRun | None, actor: Any) -> Quote:
    """Return an empty draft with the shop's rates of today, numbered within the job."""
    job, shop = design.job, design.job.shop
    last = job.quotes.aggregate(last=Max("number"))["last"] or 0
    quote = Quote(
        job=job,
        design=design,
        run=run,
        number=last + 1,
        title=job.title,
        tax_fraction=shop.tax_fraction,
        tax_on_parts=shop.tax_on_parts,
        tax_on_labour=shop.tax_on_labour,
        deposit_fraction=shop.deposit_fraction,
        labour_cost=shop.labour_cost,
        mile_cost=shop.mile_cost,
        written_by=actor,
    )
    quote.full_clean(validate_unique=False)
    quote.save()
    return quote


def _store(quote: Quote, terms: QuoteTerms, lines: Sequence[LineDraft], scope: Sequence[ScopeDraft]) -> None:
    """Write lines, scope and sums of a draft; whoever read it over before has to read it again."""
    done, sums = sums_of(quote=quote, terms=terms, lines=lines)
    if sums.subtotal < 0:
        raise QuoteRefused(
            "Discounts are larger than everything else: the quote would come to less than nothing."
        )
    for name in QuoteTerms.__slots__:
        setattr(quote, name, getattr(terms, name))
    for name in ("subtotal", "tax", "total", "deposit", "direct_cost"):
        setattr(quote, name, getattr(sums, name))
    quote.margin_fraction = _five_places(sums.margin_fraction)
    quote.edits += 1
    quote.reviewed_at, quote.reviewed_by_name = None, ""
    quote.full_clean(validate_unique=False)
    quote.save()
    quote.lines.all().delete()
    QuoteLine.objects.bulk_create(stored(done, QuoteLine, quote=quote))
    quote.scope_items.all().delete()
    ScopeItem.objects.bulk_create(
        ScopeItem(quote=quote, text=item.text, answer=item.answer, note=item.note, position=place)
        for place, item in enumerate(scope, start=1)
    )


def _five_places(margin: Decimal | None) -> Decimal | None:
    """Return the margin as stored; far below zero is kept at the column's edge."""
    return None if margin is None else max(margin, Decimal(-99)).quantize(Decimal("0.00001"))


def _fresh_run(design: Design) -> SizingRun | None:
    """Return the answer a quote is begun on; a design that was never sized has none."""
    run = latest_run(design)
    if run is not None and not is_current(design, run):
        raise SumsAreOld(_stale_words(design))
    return run


def _stale_words(design: Design) -> str:
    way = (
        "Make a new revision and quote that." if design.is_frozen else "Size it again, then begin the quote."
    )
    return (
        f"{design} was sized before the survey, the vehicle or the catalogue changed: its numbers are not"
        f" those of this vehicle any more. {way}"
    )


def _run_of_today(quote: Quote, actor: Any, at: datetime) -> SizingRun | None:
    """Return the answer the quote is sent on: sized now, unless the design is frozen already."""
    if quote.design.is_frozen:
        return latest_run(quote.design)
    return design_size(design=quote.design, actor=actor, at=at)


def _refuse_to_send(quote: Quote, *, is_owner: bool, reason: str, actor: Any) -> None:
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
        raise QuoteRefused("Say why it goes out all the same. " + " ".join(found.for_owner))
    needed = review_reasons(quote)
    if needed and not is_owner and quote.reviewed_at is None:
        raise QuoteRefused(f"A second person has to read it over first: {', '.join(needed)}.")
    if found.for_owner:
        quote.below_margin_ok_by_name, quote.override_reason = name_of(actor), reason.strip()


def _leads_to_quoted(job: Job) -> bool:
    return Job.State.DESIGNING in next_states(job) and job.state != Job.State.ACCEPTED


def _job_to_quoted(job: Job, actor: Any, at: datetime) -> None:
    """Move the job to quoted, through designing where it was not there yet."""
    if Job.State.QUOTED not in next_states(job) and job.state != Job.State.QUOTED:
        job = job_move(job=job, to=Job.State.DESIGNING, actor=actor, at=at)
    job_move(job=job, to=Job.State.QUOTED, actor=actor, at=at)


def _set_older_aside(quote: Quote) -> None:
    """Set aside what was out for the same option; other options stay open beside it."""
    older = quote.job.quotes.filter(state=S.SENT, design__option=quote.design.option).exclude(pk=quote.pk)
    older.update(state=S.SUPERSEDED, answer_note=f"Replaced by {quote}")


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
            f"This quote could be accepted until {day(quote.valid_until_date)}. Prices may have changed"
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
    S.EXPIRED: "This quote has run out. Please ask us to price it again.",
    S.DRAFT: "This quote is not ready yet.",
}
