"""A quote as a draft: begun, copied, priced and read over by a second person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from common.currency import money_text
from common.told import in_english
from jobs.engine.stored import design_in_full, is_current, latest_run, result_of
from jobs.models import Design, Job, Quote, QuoteLine, ScopeItem, SizingRun
from jobs.quote import money
from jobs.quote.kits import with_kits
from jobs.quote.lines import (
    LineDraft,
    Rates,
    draft_of,
    has_foreign_part,
    priced,
    proposed_json,
    stored,
)
from jobs.quote.option_words import option_words
from jobs.quote.proposal import Trip, propose
from jobs.quote.scope import ScopeDraft
from jobs.quote.tax import also_taxed, tax_of_day
from jobs.quote.words import what_you_get
from jobs.shop.actor import name_of
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class QuoteRefused(Refusal):
    """The quote may not be changed or sent so; says why to the person at the desk."""


class SumsAreOld(QuoteRefused):
    """The design was sized before survey, vehicle or catalog changed."""


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


def tax_of(quote: Quote, terms: QuoteTerms | None = None) -> money.TaxRule:
    """Return how a quote is taxed: by what is typed, or as stored, and by what the shop's state says of
    discounts.
    """
    rule = replace((terms or terms_of(quote)).tax, discount_lowers_base=quote.discount_lowers_tax)
    return also_taxed(rule, quote.tax_also)


def scope_of(quote: Quote) -> list[ScopeDraft]:
    """Return a quote's scope list as stored."""
    return [ScopeDraft(item.text, item.answer, item.note) for item in quote.scope_items.all()]


def scope_write(quote: Quote, scope: Sequence[ScopeDraft]) -> None:
    """Write a draft's scope list in place of the one that stands."""
    quote.scope_items.all().delete()
    ScopeItem.objects.bulk_create(
        ScopeItem(quote=quote, text=item.text, answer=item.answer, note=item.note, position=place)
        for place, item in enumerate(scope, start=1)
    )


def sums_of(
    *, quote: Quote, terms: QuoteTerms, lines: Sequence[LineDraft]
) -> tuple[list[LineDraft], money.Totals]:
    """Return the lines priced and what they come to, without saving: the live total asks just this."""
    done = priced(lines, Rates.of_quote(quote))
    return done, money.totals(
        done,
        tax=tax_of(quote, terms),
        deposit_fraction=terms.deposit_fraction,
        currency=quote.job.shop.currency,
    )


@in_english
@transaction.atomic
def quote_create(
    *,
    design: Design,
    actor: User,
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
    quote = _new_quote(full, run, actor, at)
    proposal = propose(
        design=full, shop=shop, run=run, trip=trip or Trip(), survey_fee_paid=survey_fee_paid, by_band=by_band
    )
    quote.summary = what_you_get(full, result_of(run) if run else None, shop.units)
    quote.option_name, quote.option_purpose = option_words(shop, full.option)
    _store(quote, terms_of(quote), proposal.lines, proposal.scope)
    trip = trip or Trip()
    asked = {
        "miles": trip.miles, "hours_each_way": trip.hours_each_way, "survey_fee_paid": survey_fee_paid,
        "by_band": by_band,
    }  # fmt: skip
    quote.proposed = proposed_json([draft_of(line) for line in quote.lines.all()], asked)
    quote.save(update_fields=["proposed"])
    log(shop=shop, job=full.job, actor=actor, verb="quote begun", detail=str(quote), at=at)
    return quote


def stale_words(design: Design) -> str:
    """Return why no quote can be begun on a design's sums, blank where it can."""
    full = design_in_full(design.pk)
    run = latest_run(full)
    return "" if run is None or is_current(full, run) else _stale_words(full)


@in_english
@transaction.atomic
def quote_copy(*, quote: Quote, actor: User, at: datetime) -> Quote:
    """Start a new draft with the lines and scope of another quote of the job; the old one stays as it was."""
    require(actor, quote.job.shop, "may_design")
    design = design_in_full(quote.design_id)
    fresh = _new_quote(design, _fresh_run(design), actor, at)
    fresh.option_name, fresh.option_purpose = quote.option_name, quote.option_purpose
    lines = [draft_of(line) for line in quote.lines.all()]
    fresh.tax_also, fresh.discount_lowers_tax = quote.tax_also, quote.discount_lowers_tax
    _store(fresh, terms_of(quote), lines, scope_of(quote))
    fresh.proposed = quote.proposed
    fresh.save(update_fields=["proposed"])
    detail = f"{fresh} from {quote}"
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="quote copied", detail=detail, at=at)
    return fresh


@in_english
@transaction.atomic
def quote_price(
    *,
    quote: Quote,
    terms: QuoteTerms,
    lines: Sequence[LineDraft],
    scope: Sequence[ScopeDraft],
    edits: int,
    actor: User,
    at: datetime,
) -> Quote:
    """Replace a draft's lines, scope and terms; ``edits`` is the count the person's page was made with.

    A part that is new on the quote brings its kit.
    """
    quote = locked_draft(quote, actor)
    if quote.edits != edits:
        raise QuoteRefused(
            "Somebody else changed this quote while you were typing. What you typed is still in the form:"
            " open"
            " the quote in another window, compare, then save again."
        )
    before, quote.written_by = quote.total, actor
    _store(quote, terms, with_kits(quote, lines), scope)
    before_text, after_text = (money_text(sum, quote.job.shop.currency) for sum in (before, quote.total))
    detail = f"{quote}: {before_text} to {after_text}"
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


@in_english
@transaction.atomic
def quote_review(*, quote: Quote, actor: User, at: datetime) -> Quote:
    """Note that a second person read the draft over; whoever wrote it cannot."""
    quote = locked_draft(quote, actor)
    if quote.written_by_id == actor.pk:
        raise QuoteRefused("Somebody else has to read it over, because you wrote it.")
    quote.reviewed_at, quote.reviewed_by_name = at, name_of(actor)
    quote.save(update_fields=["reviewed_at", "reviewed_by_name"])
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="quote read over", detail=str(quote), at=at)
    return quote


def lock_job(**which: int) -> None:
    """Hold a job until the change is stored: its quotes are numbered, sent and answered one at a time.

    Two options answered at once would each wait for the other's row. Rows that only name the job go on.
    """
    Job.objects.select_for_update(of=("self",), no_key=True).only("pk").get(**which)


def locked_quote(quote: Quote) -> Quote:
    """Return the quote read anew and locked until the change is stored, its job before it."""
    lock_job(quotes=quote.pk)
    related = ("job__shop", "job__survey", "job__vehicle__customer", "design", "run")
    return Quote.objects.select_for_update(of=("self",)).select_related(*related).get(pk=quote.pk)


def locked_draft(quote: Quote, actor: User) -> Quote:
    """Return the draft locked for a change; raise NotAllowed for who may not, QuoteRefused for a sent one."""
    quote = locked_quote(quote)
    require(actor, quote.job.shop, "may_design")
    must_be_draft(quote)
    return quote


def must_be_draft(quote: Quote) -> None:
    """Raise QuoteRefused for a quote that was sent."""
    if not quote.is_draft:
        raise QuoteRefused(
            f"{quote} has been sent and cannot be changed. Copy it to a new quote to change it."
        )


def _new_quote(design: Design, run: SizingRun | None, actor: User, at: datetime) -> Quote:
    """Return an empty draft with the shop's rates of today, numbered within the job."""
    job, shop = design.job, design.job.shop
    lock_job(pk=job.pk)
    last = job.quotes.aggregate(last=Max("number"))["last"] or 0
    quote = Quote(
        job=job,
        design=design,
        run=run,
        number=last + 1,
        title=job.title,
        **tax_of_day(shop, local_date(shop, at)),
        discount_lowers_tax=shop.discount_lowers_tax,
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
    if has_foreign_part(lines, quote.job.shop):
        raise QuoteRefused("A line names a part that is not in the shop's catalog.")
    done, sums = sums_of(quote=quote, terms=terms, lines=lines)
    if sums.subtotal < 0:
        raise QuoteRefused(
            "Discounts are larger than everything else: the quote would come to less than zero."
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
    scope_write(quote, scope)


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
        f"{design} was sized before the survey, the vehicle or the catalog changed: its numbers no"
        f" longer fit this vehicle. {way}"
    )
