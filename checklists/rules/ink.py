"""What a signature at a step is: a name in print, and the strokes drawn above it or none. Pure.

Stored as the value of the event: ``{"name": "Ann Reed", "ink": "M12 40L13 42…"}``. The strokes
lie in a box of 1000 by 300; without any, the typed name is the signature. Only this form is taken, so that a
drawing made of it by us can hold nothing but lines. ``static/js/tablet/rules/ink.js`` holds the same limits.
"""

from __future__ import annotations

import base64
import re
from typing import Any, Final

NAME_LENGTH: Final = 150
#: A signature of ten thousand points is not one. [characters]
INK_LENGTH: Final = 60_000
WIDTH: Final = 1000
HEIGHT: Final = 300
_POINT: Final = r"\d{1,4} \d{1,4}"
_STROKES: Final = re.compile(rf"(?:M{_POINT}(?:L{_POINT})+)*")
_NUMBER: Final = re.compile(r"(\d{1,4}) (\d{1,4})")
_INK: Final = "#1c2224"


def ink_problem(value: Any) -> str:
    """Return what is wrong with a value as a signature; empty when nothing is."""
    if not isinstance(value, dict) or set(value) != {"name", "ink"}:
        return "a signature has a name and ink, nothing else."
    name, ink = value["name"], value["ink"]
    if not isinstance(name, str) or not isinstance(ink, str):
        return "name and ink are text."
    if not name.strip():
        return "the name is missing in print."
    if name != name.strip() or not name.isprintable():
        return "the name has blank ends or marks that cannot be printed."
    if len(name) > NAME_LENGTH:
        return f"the name has at most {NAME_LENGTH} characters, got {len(name)}."
    if len(ink) > INK_LENGTH or not _STROKES.fullmatch(ink):
        return "the ink is no strokes."
    if any(int(x) > WIDTH or int(y) > HEIGHT for x, y in _NUMBER.findall(ink)):
        return "the ink runs off the pad."
    return ""


def is_ink(value: Any) -> bool:
    """Return whether a stored value is a signature."""
    return isinstance(value, dict) and set(value) == {"name", "ink"}


def ink_words(value: Any) -> str:
    """Return a signature in words."""
    return f"signed by {value['name']}" + ("" if value["ink"] else ", typed name")


def ink_svg(ink: str) -> str:
    """Return the strokes as a drawing; empty text when there are none."""
    if not ink or not _STROKES.fullmatch(ink):
        return ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">'
        f'<title>Signature</title><path d="{ink}" fill="none" stroke="{_INK}" stroke-width="5"'
        ' stroke-linecap="round" stroke-linejoin="round"/></svg>'
    )


def ink_uri(ink: str) -> str:
    """Return the drawing as an address of its own; empty text when nothing is drawn."""
    svg = ink_svg(ink)
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}" if svg else ""
