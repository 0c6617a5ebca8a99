"""Prints a quantity, a verdict, a share and money. Built into every template."""

from __future__ import annotations

import functools
import math
import re
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from django import template
from django.template import Context
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from common import units as trade
from common.currency import money_text
from common.told import told
from common.visitors import browser_words

register = template.Library()

NOTHING: Final = "–"
_ICONS = Path(__file__).resolve().parent.parent.parent / "static" / "vendor" / "icons"
# Shape, word and color together: none of the three carries the meaning alone.
# Presentation attributes, not classes: on paper an SVG sees no style sheet.
_SOLID: Final = 'fill="currentColor"'
_MARK: Final = 'fill="none" stroke="#fff" stroke-width="1.9"'
_LINE: Final = 'fill="none" stroke="currentColor" stroke-width="1.6"'
_VERDICTS: Final[dict[str, tuple[str, str]]] = {
    "pass": (
        "Pass",
        f'<circle {_SOLID} cx="8" cy="8" r="7"/><path {_MARK} d="M4.5 8.4l2.4 2.4 4.6-5.2"/>',
    ),
    "caution": (
        "Caution",
        f'<path {_SOLID} d="M8 1l7.4 13.5H.6z"/><path {_MARK} d="M8 6v4M8 11.6v1.2"/>',
    ),
    "block": (
        "Block",
        f'<path {_SOLID} d="M5 .8h6L15.2 5v6L11 15.2H5L.8 11V5z"/><path {_MARK} d="M4 8h8"/>',
    ),
    "not_enough_data": (
        "Not enough data",
        f'<rect {_LINE} x="1.2" y="1.2" width="13.6" height="13.6" stroke-dasharray="3 2"/>'
        f'<path {_LINE} d="M5.8 6a2.2 2.2 0 1 1 3.3 1.9c-.8.5-1.1.9-1.1 1.7M8 11.3v1.2"/>',
    ),
}


def _is_nothing(value: Any) -> bool:
    """Return whether there is no number to print."""
    return value is None or value == "" or (isinstance(value, float) and not math.isfinite(value))


@register.simple_tag(takes_context=True)
def qty(
    context: Context,
    value: Any,
    unit: str,
    digits: int | None = None,
    plain: bool = False,
    units: str = "",
) -> str:
    """Print a stored SI value in the shop's units: ``{% qty roof.length_m "m" %}``.

    ``m_run`` prints a run of wire in decimal feet; ``plain=True`` leaves the markup out (for titles).
    """
    if _is_nothing(value):
        return NOTHING
    shop = context.get("shop")
    text = trade.show(value, unit, units or getattr(shop, "units", trade.IMPERIAL), digits=digits)
    return text if plain else format_html('<span class="qty">{}</span>', text)


@register.filter(name="told")
def told_filter(sentence: Any) -> str:
    """Print a sentence of the engine, of a service or of the log in the language of the page."""
    return "" if sentence is None else told(sentence)


@register.filter
def browser(user_agent: str) -> str:
    """Print which browser a sign-in came from: ``{{ session.user_agent|browser }}``."""
    return browser_words(user_agent)


@register.filter
def number(value: Any, digits: int = 0) -> str:
    """Print a number with thousands separated: ``{{ energy_wh|number:0 }}``."""
    return NOTHING if _is_nothing(value) else trade.number_text(float(value), int(digits))


@register.filter
def percent(fraction: Any, digits: int = 2) -> str:
    """Print a share of 0 to 1 as percent: ``{{ check.value|percent:2 }}``."""
    return NOTHING if _is_nothing(fraction) else f"{trade.number_text(float(fraction) * 100, int(digits))}%"


@register.filter
def money(amount: Any, currency: str = "USD") -> str:
    """Print an amount of money: ``{{ quote.total|money:shop.currency }}``."""
    if _is_nothing(amount):
        return NOTHING
    return money_text(Decimal(str(amount)), currency)


@register.simple_tag
def verdict(value: Any) -> SafeString:
    """Print a verdict as shape, word and color; an unknown word is shown as not enough data."""
    key = str(getattr(value, "value", value) or "not_enough_data")
    word, shape = _VERDICTS.get(key, _VERDICTS["not_enough_data"])
    return format_html(
        '<span class="verdict verdict-{}">'
        '<svg viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false">{}</svg>'
        "{}</span>",
        key.replace("_", "-"),
        mark_safe(shape),  # noqa: S308 - a constant of ours
        told(word),
    )


@functools.cache
def _icon_body(name: str) -> str:
    """Return the drawing inside an icon file, without its outer tag."""
    if not re.fullmatch(r"[a-z0-9-]+", name):
        raise ValueError(f"icon names are lower case letters, digits and hyphens, got {name!r}")
    text = (_ICONS / f"{name}.svg").read_text()
    return text[text.index(">") + 1 : text.rindex("</svg>")]


@register.simple_tag
def icon(name: str, label: str = "") -> SafeString:
    """Print an icon; with ``label`` it speaks for itself, without one it is decoration."""
    body = mark_safe(_icon_body(name))  # noqa: S308 - files of ours
    if label:
        return format_html(
            '<svg class="icon" viewBox="0 0 16 16" width="16" height="16" role="img" fill="currentColor">'
            "<title>{}</title>{}</svg>",
            label,
            body,
        )
    return format_html(
        '<svg class="icon" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false"'
        ' fill="currentColor">{}</svg>',
        body,
    )
