"""A quote begun like another job's: today's proposal and prices, with what was changed there by hand.

The other quote's lines are laid into a new draft with the proposal they grew from, and proposed anew: what
nobody touched follows this design and today's prices, what a hand changed stays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Design, LineKind, Part, Quote, QuoteLine
from jobs.quote.draft import QuoteRefused, quote_create, scope_of, scope_write
from jobs.quote.lines import LineDraft, Rates, draft_of, line_of_json, priced, proposed_json, stored
from jobs.quote.proposal import Trip
from jobs.quote.rerun import quote_rerun, rerun_of
from jobs.shop.log import log
from jobs.shop.rights import require

#: What was agreed with the other customer, or is the way to them.
_THEIRS: Final = frozenset({LineKind.DISCOUNT, LineKind.CUSTOMER_PART, LineKind.TRAVEL, LineKind.CALL_OUT})
_NO_TRIP: Final = {"miles": "0", "hours_each_way": "0", "survey_fee_paid": "0"}


@dataclass(frozen=True, slots=True)
class Repeated:
    """A draft begun like another, and what is to be said of it."""

    quote: Quote
    words: list[str]


def quote_to_repeat(design: Design) -> Quote | None:
    """Return the quote of the design this one was begun from: the accepted one, else the newest."""
    if design.begun_from_id is None:
        return None
    found = list(Quote.objects.of_shop(design.job.shop).filter(design=design.begun_from_id))
    return min(found, key=lambda one: (not one.is_accepted, -one.number), default=None)


@in_english
@transaction.atomic
def quote_repeat(*, design: Design, actor: User, at: datetime) -> Repeated:
    """Begin a quote like that of the job whose design this one took: its edits by hand, today's prices."""
    shop = design.job.shop
    require(actor, shop, "may_design")
    past = quote_to_repeat(design)
    if past is None:
        raise QuoteRefused("The other job has no quote of this design: begin a quote as usual.")
    if design.job.designs.filter(option=design.option, number__gt=design.number).exists():
        raise QuoteRefused("There is a newer revision of this plan: quote that one.")
    options = dict(past.proposed["options"]) | _NO_TRIP if past.proposed else {}
    quote = quote_create(
        design=design, actor=actor, at=at, trip=Trip(), by_band=bool(options.get("by_band", False))
    )
    today = {"options": (quote.proposed or {})["options"]}
    base, ours, left_out = _of_the_past(past, Rates.of_quote(quote))
    quote.lines.all().delete()
    QuoteLine.objects.bulk_create(stored(ours, QuoteLine, quote=quote))
    _scope_taken(quote, past)
    quote.proposed = today | {"lines": proposed_json(base, {})["lines"]}
    quote.save(update_fields=["proposed"])
    found = rerun_of(quote)
    quote = quote_rerun(quote=quote, edits=quote.edits, actor=actor, at=at)
    detail = f"{quote} like {past} of job {past.job.number}"
    log(shop=shop, job=quote.job, actor=actor, verb="quote begun like another", detail=detail, at=at)
    return Repeated(quote, [*_counted(found.changes if found else []), *left_out, *_gone(quote)])


def _of_the_past(past: Quote, rates: Rates) -> tuple[list[LineDraft], list[LineDraft], list[str]]:
    """Return the lines as they were proposed, the lines to take along, and what is left behind."""
    rows = list(past.lines.select_related("part"))
    lines = [(draft_of(row), row.part) for row in rows if row.kind not in _THEIRS]
    behind = sorted({row.get_kind_display() for row in rows if row.kind in _THEIRS and row.amount})
    words = [f"Not taken along from the other quote: {', '.join(behind)}."] if behind else []
    if past.proposed:
        base = [line_of_json(row) for row in past.proposed["lines"] if row["kind"] not in _THEIRS]
        known = {line.about for line in base}
        ours = [line if line.about in known else _of_today(line, part, rates) for line, part in lines]
        return base, priced(ours, rates), words
    words.append("The other quote does not know how it was proposed: its hours are taken along as they are.")
    ours = priced([_of_today(line, part, rates) for line, part in lines], rates)
    return [line for line in ours if line.kind != LineKind.LABOUR], ours, words


def _of_today(line: LineDraft, part: Part | None, rates: Rates) -> LineDraft:
    """Return a line somebody added, at today's rate or cost."""
    if line.kind == LineKind.LABOUR:
        return replace(line, unit_price=rates.pair_rate if line.is_pair else rates.labour_rate)
    return line if part is None else replace(line, unit_cost=part.cost)


def _scope_taken(quote: Quote, past: Quote) -> None:
    """Take along what was answered on the scope lines there, and the lines somebody added."""
    theirs = {item.text: item for item in scope_of(past)}
    ours = scope_of(quote)
    taken = [theirs.get(item.text, item) for item in ours]
    taken += [item for text, item in theirs.items() if text not in {one.text for one in ours}]
    scope_write(quote, taken)


def _counted(changes: list[Any]) -> list[str]:
    """Return how many lines follow this design and today's prices, and what stays as it was typed there."""
    kept = [change.text for change in changes if change.kind == "kept"]
    moved = len(changes) - len(kept)
    words = [f"Lines that follow this design and today's prices: {moved}."] if moved else []
    return [*words, f"Kept as typed for the other job: {'; '.join(kept)}."] if kept else words


def _gone(quote: Quote) -> list[str]:
    """Return which parts of the quote the shop does not carry any more."""
    names = set(quote.lines.filter(part__is_active=False).values_list("part__name", flat=True))
    return [f"{name} is no longer in the catalog's list." for name in sorted(filter(None, names))]
