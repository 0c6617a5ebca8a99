"""Knows how to read a printed paper: through PDFium, a reader that had no part in making it."""

from __future__ import annotations

import pypdfium2


def pages_of(pdf: bytes) -> list[str]:
    """Return the words of each page, in the order they were printed."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_textpage().get_text_range() for page in document]
    finally:
        document.close()


def text_of(pdf: bytes) -> str:
    """Return the words of a whole paper."""
    return "\n".join(pages_of(pdf))
