"""Prices that are missing in a draft: asked for on its page, put into its lines and into the catalog."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.utils.text import slugify

from common.told import in_english
from jobs.models import LineKind, Part, PriceChange, Quote, QuoteLine, Shop
from jobs.parts.catalogue import part_save
from jobs.parts.costs import Because
from jobs.quote.draft import QuoteRefused, locked_draft, quote_price, scope_of, terms_of
from jobs.quote.lines import LineDraft, draft_of

_KINDS: Final = (
    ("^cable", Part.Kind.CABLE),
    ("fuse|breaker|switch", Part.Kind.PROTECTION),
    ("foot|mount|bracket", Part.Kind.MOUNT),
    ("sealant|tape", Part.Kind.SEALANT),
)
#: A stock code of ours leaves room for the number that tells two of one name apart.
_CODE_LENGTH: Final = 34


def can_be_asked(line: QuoteLine) -> bool:
    """Return whether one amount is all that is missing; hours and a quantity of 0 are mended in the lines."""
    return line.is_unpriced and line.quantity > 0 and line.kind != LineKind.LABOUR


@in_english
@transaction.atomic
def prices_fill(
    *, quote: Quote, prices: Mapping[int, Decimal], edits: int, actor: User, at: datetime
) -> Quote:
    """Give lines of a draft their price, by line number: what a part costs us, what the rest sells for, each.

    A part's cost goes into the catalog too; one that is not in it yet is added. ``edits`` is the count the
    person's page was made with.
    """
    quote = locked_draft(quote, actor)
    if quote.edits != edits:
        raise QuoteRefused(
            "Somebody else changed this quote while you were typing. Please enter the prices again."
        )
    lines = list(quote.lines.select_related("part"))
    drafts = [_filled(line, prices.get(line.pk), quote.job.shop, actor, at) for line in lines]
    return quote_price(
        quote=quote,
        terms=terms_of(quote),
        lines=drafts,
        scope=scope_of(quote),
        edits=edits,
        actor=actor,
        at=at,
    )


def _filled(line: QuoteLine, amount: Decimal | None, shop: Shop, actor: User, at: datetime) -> LineDraft:
    draft = draft_of(line)
    if amount is None or not can_be_asked(line):
        return draft
    if line.kind != LineKind.PART:
        return replace(draft, unit_price=amount)
    part = line.part or Part(shop=shop, sku=_free_code(shop, line.text), name=line.text, unit=line.unit)
    part.kind = part.kind or kind_of(line.text)
    part.cost = amount
    because = Because(PriceChange.Way.QUOTE, f"{line.quote.job}, {line.quote}"[:160])
    part_save(part=part, sheet=None, actor=actor, at=at, because=because)
    return replace(draft, unit_cost=amount, part_id=part.pk)


def kind_of(text: str) -> str:
    """Return what kind of part words like these name; so the next quote finds it in the catalog by itself."""
    return next((kind for words, kind in _KINDS if re.search(words, text.lower())), Part.Kind.OTHER)


def _free_code(shop: Shop, text: str) -> str:
    """Return a stock code made of a part's name that no part of the shop has."""
    base = slugify(text).upper()[:_CODE_LENGTH].rstrip("-") or "PART"
    taken = set(Part.objects.of_shop(shop).filter(sku__startswith=base).values_list("sku", flat=True))
    numbered = (f"{base}-{number}" for number in range(2, len(taken) + 3))
    return next(code for code in (base, *numbered) if code not in taken)
