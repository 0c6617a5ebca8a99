"""Words recorded values, and what is open because of them, in the shop's units."""

from __future__ import annotations

from typing import Any

from checklists.rules.holds import OpenItem
from checklists.rules.ink import ink_words, is_ink
from checklists.rules.judging import FieldMark, Mark, conflict_words
from common import units as trade


def value_text(found: FieldMark, value: Any, units: str) -> str:
    """Return a value as the shop writes it."""
    spec = found.spec
    if value is None or value == "":
        return ""
    if spec.choices or spec.lines:
        return spec.choice_label(value)
    if isinstance(value, bool):
        return "Done" if value else "No"
    if isinstance(value, int | float):
        return quantity_text(float(value), spec.unit, units)
    return ink_words(value) if is_ink(value) else str(value)


def quantity_text(value: float, unit: str, units: str) -> str:
    """Return a number with its unit: wire in decimal feet, small counts without a point."""
    if not unit:
        return f"{value:g}"
    return trade.show(value, "m_run" if unit == "m" else unit, units, trim=True)


def item_text(item: OpenItem, units: str) -> str:
    """Return what keeps a hold shut."""
    return item.sentence if item.disputed is None else mark_text(item.disputed, units)


def mark_text(found: FieldMark, units: str) -> str:
    """Return what is said of a field; the values of a dispute as the shop writes them."""
    if found.mark is not Mark.CONFLICT:
        return found.sentence
    return conflict_words(found.spec, found.state, lambda value: value_text(found, value, units))
