"""Declares free what a draft has no price for, so that a test can send it with the sums it had."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from jobs.models import Quote
from jobs.quote.draft import quote_price, scope_of, terms_of
from jobs.quote.lines import draft_of


def nothing_missing(quote: Quote, actor: Any, at: datetime) -> Quote:
    """Return the draft read anew, with every line that has no price declared free."""
    quote = Quote.objects.get(pk=quote.pk)
    lines = list(quote.lines.all())
    drafts = [
        replace(draft_of(line), free_reason="part of the job") if line.is_unpriced else draft_of(line)
        for line in lines
    ]
    scope = scope_of(quote)
    terms = terms_of(quote)
    if any(line.is_unpriced for line in lines):
        quote_price(
            quote=quote, terms=terms, lines=drafts, scope=scope, edits=quote.edits, actor=actor, at=at
        )
    return Quote.objects.get(pk=quote.pk)
