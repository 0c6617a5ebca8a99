"""Prints texts of steps and sentences of the rules as this shop says them, in the language of the page."""

from __future__ import annotations

from collections.abc import Iterable

from django import template
from django.template import Context

from checklists.office.step import FieldView
from checklists.rules.judging import Mark
from checklists.texts.says import says

register = template.Library()


@register.simple_tag(takes_context=True)
def say(context: Context, text: object, *, first: bool = False) -> str:
    """Print a text; with ``first`` its first letter large."""
    words = says(context.get("shop"))(str(text or ""))
    return words[:1].upper() + words[1:] if first else words


@register.simple_tag(takes_context=True)
def say_all(context: Context, texts: Iterable[str], between: str = "; ") -> str:
    """Print several texts in a row."""
    told = says(context.get("shop"))
    return between.join(told(text) for text in texts)


@register.simple_tag(takes_context=True)
def say_wrong(context: Context, field: FieldView) -> str:
    """Print what is wrong at a field, without the name that stands above it already."""
    told = says(context.get("shop"))
    if field.mark.mark is Mark.CONFLICT:  # the values stand above, with their names, in the shop's units
        return told(field.says)
    words = told(field.mark.sentence).removeprefix(f"{told(field.spec.label)}: ")
    return words[:1].upper() + words[1:]
