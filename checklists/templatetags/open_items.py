"""Prints a thing that keeps a hold shut."""

from __future__ import annotations

from django import template
from django.template import Context

from checklists.record.wording import item_text
from checklists.rules.holds import OpenItem
from checklists.texts.says import says
from common import units as trade

register = template.Library()


@register.simple_tag(takes_context=True)
def open_item(context: Context, item: OpenItem) -> str:
    """Print the sentence of an open item, disputed values in the shop's units."""
    shop = context.get("shop")
    return says(shop)(item_text(item, getattr(shop, "units", trade.IMPERIAL)))
