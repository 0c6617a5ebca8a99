"""Which template and data make the quote on paper. It prints the frozen document, nothing behind it."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from jobs.models import Quote


def quote_pdf(quote: Quote, document: dict[str, Any]) -> bytes:
    """Return the quote as PDF; a draft carries its mark, an accepted one the signature."""
    from common.pdf import pdf_bytes  # the PDF library takes a second to import; pages must not wait for it

    context = {
        "doc": document,
        "shop": SimpleNamespace(**document["shop"]),
        "quote": quote,
        "watermark": "Draft" if quote.is_draft else "",
        "head": {
            "vehicle": document["vehicle"]["title"],
            "vin_tail": document["vehicle"]["vin_tail"],
            "job_number": f"{document['job']}, quote {document['number']}",
            "code": quote.content_sha256[:12],
        },
    }
    title = f"Quote {document['number']}, job {document['job']}, {document['shop']['name']}"
    return pdf_bytes("pdf/quote.html", context, title=title)
