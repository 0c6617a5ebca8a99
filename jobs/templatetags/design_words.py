"""How the engine's names are said to a person: subjects, guesses, measures, months."""

from __future__ import annotations

import calendar
import functools
import math
from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any, Final

from django import template
from django.template import Context, engines
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import get_language

import sizing
from common import units as trade
from common.templatetags import show
from common.told import told

register = template.Library()

_GUESSES: Final = {
    "loads": "the load audit",
    "legs": "the travel plan",
    "site.tmin_travel": "coldest while traveling",
    "site.tmin_storage": "coldest in storage",
    "site.tmax": "hottest air",
    "panels": "the panels' data",
    "strings": "the strings",
    "controllers": "the controllers",
    "bank": "the bank",
    "bank.tmin": "how cold the bank gets",
    "bank.place": "where the bank is",
    "inverter": "the inverter",
    "sources": "the other chargers",
    "roof.material": "the roof's material",
    "roof.deck": "the roof's deck",
    "roof.rafters": "the rafters",
    "roof.height": "the vehicle's height",
    "roof.front": "whether the front is open to the wind",
    "roof.screw": "the screw of the feet",
    "weight": "the weight ledger",
    "weight.places": "where masses sit",
    "weight.scale": "the scale ticket",
    "weight.wheelbase": "the distances between the axles",
}
#: Digits added at most so that a value and its limit do not read alike.
_MOST_DIGITS: Final = 5
#: Units that the sizing face names and people say otherwise.
_UNITS: Final = {"d": "days", "utilisation": "of what it holds"}


@register.filter
def guess_words(name: str) -> str:
    """Return a guessed fact in words: ``circuit:C2.run_len`` is "the path of C2"."""
    if name.startswith("circuit:"):
        return f"the path of {name.removeprefix('circuit:').partition('.')[0]}"
    return _GUESSES.get(name, name.replace("_", " ").replace(".", ": "))


@register.simple_tag(takes_context=True)
def once(context: Context, name: str, value: Any) -> SafeString:
    """Print a part that shows one check or figure and nothing else: made once for each, language and units.

    A page shows two hundred of them and they change only when the design is sized; what is kept is known by
    all it shows, so nothing has to be let go.
    """
    shop = context.get("shop")
    return _printed(name, value, getattr(shop, "units", trade.IMPERIAL), get_language() or "")


@functools.lru_cache(maxsize=4096)
def _printed(name: str, value: Any, units: str, language: str) -> SafeString:
    shown = {"check": value, "figure": value, "shop": SimpleNamespace(units=units)}
    part: Any = engines["django"].get_template(name)
    return SafeString(part.template.render(Context(shown)))  # a template of ours, its values escaped


@register.simple_tag(takes_context=True)
def measure(context: Context, value: Any, unit: str, beside: Any = None) -> str:
    """Print a value of the sizing face with its unit; a fraction as percent.

    ``beside`` is the number it is set against: where both would read alike and are not, digits are added.
    """
    if beside is None or value is None or math.isclose(value, beside, rel_tol=1e-9):
        return _measured(context, value, unit)
    for digits in (None, *range(1, _MOST_DIGITS)):
        text = _measured(context, value, unit, digits)
        if text != _measured(context, beside, unit, digits):
            return text
    return _measured(context, value, unit, _MOST_DIGITS)


def _measured(context: Context, value: Any, unit: str, digits: int | None = None) -> str:
    if unit == "fraction":
        return show.percent(value, 2 if digits is None else 2 + digits)
    if unit in _UNITS:
        number = show.number(value, 2 if digits is None else 2 + digits)
        return f"{number} {_UNITS[unit]}" if value is not None else show.NOTHING
    is_large = unit in {"A", "V", "W", "N"} and value is not None and abs(value) >= 1000
    return show.qty(context, value, unit, digits=0 if is_large and digits is None else digits)


@register.filter
def room(margin: float) -> str:
    """Return the room left as percent, with digits enough that a little over never reads as none."""
    texts = (show.percent(margin, digits) for digits in range(1, _MOST_DIGITS + 1))
    return next((text for text in texts if margin == 0 or text.strip("-0.%")), show.percent(margin, 1))


@register.simple_tag(takes_context=True)
def measure_term(context: Context, term: Any) -> str:
    """Print one input of a formula: a word as it stands, a number with its unit."""
    if isinstance(term.value, str):
        return term.value
    return measure(context, term.value, term.unit)


@register.simple_tag(takes_context=True)
def numbers_of(context: Context, judged: Any) -> str:
    """Print value and limit of a check, or of a note made on one; the verdict where there is no number."""
    if judged.value is None:
        return f"“{told(sizing.Verdict(judged.verdict).label)}”"
    value = measure(context, judged.value, judged.unit, judged.limit)
    if judged.limit is None:
        return value
    return format_html("{} (limit {})", value, measure(context, judged.limit, judged.unit, judged.value))


@register.filter
def month_name(number: int | None) -> str:
    """Return a month by its number."""
    return told(calendar.month_name[number]) if number else show.NOTHING


@register.filter
def circuit_label(subject: str) -> str:
    """Return the label on the cable when a subject is a circuit, else nothing."""
    return subject.removeprefix("circuit:") if subject.startswith("circuit:") else ""


@register.filter
def troubles_of(result: Any, circuit_id: str) -> list[str]:
    """Return what is not a pass on a circuit, shortly; that its length is a guess its row says already."""
    return [
        told(check.title.rpartition(": ")[2])
        for check in result.checks
        if check.subject == f"circuit:{circuit_id}"
        and check.verdict is not sizing.Verdict.PASS
        and not check.key.endswith("/run_len")
    ]


@register.filter
def most_cautious(by_method: Iterable[tuple[str, float]]) -> float | None:
    """Return the highest of the cold volts that several methods give."""
    return max((volts for _, volts in by_method), default=None)


@register.filter
def signed(value: Any, digits: int = 0) -> str:
    """Print a number with its sign: a gain is as plain as a loss."""
    text = show.number(value, digits)
    return f"+{text}" if value is not None and value > 0 and text != show.NOTHING else text.replace("-", "−")
