"""Rows of the table of rights for offers, the customer's words and the logo."""

from __future__ import annotations

import io
from typing import Any, Final

from PIL import Image

from jobs.models import Quote
from jobs.quote.answer import quote_lost
from jobs.quote.messages import message_answer, message_ask, messages_settle
from jobs.quote.offer import OptionWords, offer_change, offer_make, offer_send, offer_take_apart
from jobs.quote.rerun import quote_rerun
from jobs.shop.logo import logo_save
from tests.unit.services.calls import DESK, OWNER, Service
from tests.unit.services.world import NOW, REASON

NOBODY: Final[frozenset[str]] = frozenset()


def _with_offer(side: Any) -> Any:
    """Return an offer of the priced quote, read over by a second person."""
    offer = offer_make(job=side.job, designs=[side.quote.design], recommended=None, actor=side.owner, at=NOW)
    Quote.objects.filter(offer=offer).update(reviewed_at=NOW, reviewed_by_name="Una New")
    return offer


def _asked(side: Any) -> Any:
    message_ask(quote=side.quote, kind="question", name="Nell Pardee", text="When?", at=NOW)
    return side.quote


def _png() -> io.BytesIO:
    out = io.BytesIO()
    Image.new("RGB", (8, 4), "red").save(out, "PNG")
    out.seek(0)
    return out


def _words(offer: Any) -> dict[int, OptionWords]:
    return {quote.pk: OptionWords("Evening", "For evenings.") for quote in offer.quotes.all()}


OFFERS: tuple[Service, ...] = (
    Service(
        logo_save, "design", OWNER,
        lambda side, who, _: logo_save(shop=side.shop, file=_png(), actor=who, at=NOW),
    ),
    Service(
        offer_make, "priced", DESK,
        lambda side, who, _: offer_make(
            job=side.job, designs=[side.quote.design], recommended=None, actor=who, at=NOW
        ),
    ),
    Service(
        offer_change, "priced", DESK,
        lambda side, who, offer: offer_change(
            offer=offer, words=_words(offer), recommended=None, actor=who, at=NOW
        ),
        _with_offer,
    ),
    Service(
        offer_take_apart, "priced", DESK,
        lambda side, who, offer: offer_take_apart(offer=offer, actor=who, at=NOW), _with_offer,
    ),
    Service(
        offer_send, "priced", DESK,
        lambda side, who, offer: offer_send(offer=offer, actor=who, at=NOW, reason=REASON), _with_offer,
    ),
    Service(
        message_answer, "offered", DESK,
        lambda side, who, quote: message_answer(quote=quote, text="Soon.", actor=who, at=NOW), _asked,
    ),
    Service(
        quote_rerun, "priced", DESK,
        lambda side, who, _: quote_rerun(quote=side.quote, edits=side.quote.edits, actor=who, at=NOW),
    ),
    Service(
        quote_lost, "offered", DESK,
        lambda side, who, _: quote_lost(
            quote=side.quote, lost_reason="price", note="", actor=who, at=NOW
        ),
    ),
    Service(
        messages_settle, "offered", DESK,
        lambda side, who, quote: messages_settle(quote=quote, actor=who, at=NOW), _asked,
    ),
)  # fmt: skip

ASKED_BY_CUSTOMERS: tuple[Service, ...] = (
    Service(
        message_ask, "offered", NOBODY,
        lambda side, who, _: message_ask(
            quote=side.quote, kind="question", name="Nell Pardee", text="When?", at=NOW
        ),
    ),
)  # fmt: skip
