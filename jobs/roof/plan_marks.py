"""The pens of the roof plan: colors, line patterns, and how one mark is written."""

from __future__ import annotations

from typing import Any, Final
from xml.sax.saxutils import escape, quoteattr

INK: Final = "#22303a"
SOFT: Final = "#5b6770"
PAPER: Final = "#fffdf8"
GLASS: Final = "#e3eaf0"
RED: Final = "#a32a1c"
#: Color and line pattern of a string; the number is printed as well. Each is 4.5:1 or better on the panel.
STRINGS: Final = (
    ("#1f4e5f", ""),
    ("#9a3b0c", "90 40"),
    ("#4b3a8c", "30 36"),
    ("#2a6329", "140 40 30 40"),
    ("#7c1d4c", "70 26 26 26"),
    ("#5a5300", "18 22"),
)
UNWIRED: Final = ("#5b6770", "8 26")


def string_style(string: str) -> tuple[str, str]:
    """Return color and line pattern of a string by its number."""
    return STRINGS[(int(string) - 1) % len(STRINGS)] if string.isdigit() else UNWIRED


def number(value: float) -> str:
    """Return a coordinate to the tenth of a millimeter, without needless zeros."""
    text = f"{value:.1f}"
    return "0" if text in {"-0.0", "0.0"} else text.removesuffix(".0")


def tag(name: str, text: str | None = None, **attributes: Any) -> str:
    """Return one element; ``stroke_width`` becomes ``stroke-width``, a value of None is left out."""
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(str(value))}"
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{written}/>" if text is None else f"<{name}{written}>{escape(text)}</{name}>"
