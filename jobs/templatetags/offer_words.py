"""Draws what an option gives by month against what is used, as plain bars."""

from __future__ import annotations

from typing import Any, Final

from django import template

register = template.Library()
WIDTH: Final = 320
HEIGHT: Final = 96
_FLOOR: Final = 80  # where the bars stand; the months' names lie under it
_GAP: Final = 4


@register.filter
def harvest_bars(option: dict[str, Any]) -> dict[str, Any]:
    """Return the drawing of an option's months: a bar each, and the line of the daily use."""
    months = option["months"]
    top = max([option["use_wh"], *(each["harvest_wh"] for each in months)], default=0) or 1
    step = WIDTH / max(len(months), 1)
    bars = [
        {
            "x": round(place * step + _GAP / 2, 1),
            "middle": round((place + 0.5) * step, 1),
            "y": round(_FLOOR * (1 - each["harvest_wh"] / top), 1),
            "width": round(min(step - _GAP, 40), 1),
            "height": round(_FLOOR * each["harvest_wh"] / top, 1),
            "month": each["month"],
            "is_short": each["harvest_wh"] < option["use_wh"],
        }
        for place, each in enumerate(months)
    ]
    return {
        "bars": bars,
        "use_y": round(_FLOOR * (1 - option["use_wh"] / top), 1),
        "width": WIDTH,
        "height": HEIGHT,
        "floor": _FLOOR,
    }


@register.filter
def by_answer(scope: list[dict[str, str]]) -> list[tuple[str, list[dict[str, str]]]]:
    """Return the scope list by its answers, in the order they first come."""
    found: dict[str, list[dict[str, str]]] = {}
    for item in scope:
        found.setdefault(item["answer"], []).append(item)
    return list(found.items())


@register.filter
def lower_first(text: str) -> str:
    """Return the words as they stand within a sentence; an abbreviation keeps its letters."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]
