"""What of a drawn signature is kept: its strokes, drawn anew by us, and nothing else."""

from __future__ import annotations

import re
from typing import Final

#: A signature of a thousand strokes is not one. [characters]
MAX_CHARACTERS: Final = 200_000
_NUMBER = r"-?\d{1,5}(?:\.\d{1,20})?"
_VIEW_BOX = re.compile(rf'viewBox="({_NUMBER}) ({_NUMBER}) ({_NUMBER}) ({_NUMBER})"')
_PATH = re.compile(r'<path\b[^>]*?\sd="([MLCQmlcq0-9.,\s-]{1,400})"[^>]*?>')
_WIDTH = re.compile(r'stroke-width="(\d{1,2}(?:\.\d{1,3})?)"')
_DOT = re.compile(rf'<circle\b[^>]*?\br="({_NUMBER})" cx="({_NUMBER})" cy="({_NUMBER})"')
_INK: Final = "#1c2224"


def clean_signature_svg(text: str) -> str:
    """Return the signature as a drawing of strokes and dots only; empty text when none can be read."""
    box = _VIEW_BOX.search(text[:2000])
    if box is None or len(text) > MAX_CHARACTERS:
        return ""
    marks = [_stroke(found) for found in _PATH.finditer(text)] + [
        _dot(found) for found in _DOT.finditer(text)
    ]
    if not marks:
        return ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{" ".join(box.groups())}" role="img">'
        f"<title>Signature</title>{''.join(marks)}</svg>"
    )


def _stroke(found: re.Match[str]) -> str:
    width = _WIDTH.search(found.group(0))
    return (
        f'<path d="{found.group(1)}" fill="none" stroke="{_INK}" stroke-linecap="round"'
        f' stroke-width="{width.group(1) if width else "2"}"/>'
    )


def _dot(found: re.Match[str]) -> str:
    radius, x, y = found.groups()
    return f'<circle cx="{x}" cy="{y}" r="{radius}" fill="{_INK}"/>'
