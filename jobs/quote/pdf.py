"""Which template and data make a quote or an offer on paper. It prints frozen words."""

from __future__ import annotations

import base64
from types import SimpleNamespace
from typing import Any

from jobs.models import Quote
from jobs.quote.agreed import Agreed, agreed_sums
from jobs.shop.logo import logo_of


def quote_pdf(quote: Quote, document: dict[str, Any]) -> bytes:
    """Return the quote as PDF; a draft carries its mark, an accepted one the signature and what was taken."""
    number = f"{document['job']}, quote {document['number']}"
    title = f"Quote {document['number']}, job {document['job']}, {document['shop']['name']}"
    context = {"agreed": _agreed(quote)}
    return _printed("pdf/quote.html", quote, document, context, number, title)


def offer_pdf(quote: Quote, quotes: list[Quote], comparison: dict[str, Any]) -> bytes:
    """Return all options of an offer as one PDF; ``quote`` is the accepted one, else any of them."""
    docs = [{"doc": each.snapshot, "agreed": _agreed(each)} for each in quotes if each.snapshot is not None]
    document = quote.snapshot or {}
    title = f"Offer, job {document['job']}, {document['shop']['name']}"
    context = {"comparison": comparison, "docs": docs}
    return _printed("pdf/offer.html", quote, document, context, document["job"], title)


def _printed(
    template: str,
    quote: Quote,
    document: dict[str, Any],
    context: dict[str, Any],
    number: str,
    title: str,
) -> bytes:
    from common.pdf import pdf_bytes  # the PDF library takes a second to import; pages must not wait for it

    context |= {
        "doc": document,
        "shop": SimpleNamespace(**document["shop"]),
        "quote": quote,
        "logo_uri": _logo_uri(quote),
        "watermark": "Draft" if quote.is_draft else "",
        "head": {
            "vehicle": document["vehicle"]["title"],
            "vin_tail": document["vehicle"]["vin_tail"],
            "job_number": number,
            "code": quote.content_sha256[:12],
        },
    }
    return pdf_bytes(template, context, title=title)


def _agreed(quote: Quote) -> Agreed | None:
    """Return the sums with the extras the customer took; None before a yes."""
    return agreed_sums(quote, quote.chosen_positions) if quote.is_accepted else None


def _logo_uri(quote: Quote) -> str:
    logo = logo_of(quote.job.shop)
    return f"data:image/png;base64,{base64.b64encode(bytes(logo.png)).decode()}" if logo else ""
