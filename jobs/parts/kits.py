"""Which parts come onto a quote with another one."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import KitItem, Part
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: More than these come with no part.
MOST_ITEMS: Final = 30


class KitRefused(Refusal):
    """These parts cannot go together; says why."""


@in_english
@transaction.atomic
def kit_item_set(
    *, head: Part, part: Part, quantity: Decimal, per: str, actor: User, at: datetime
) -> KitItem:
    """Have a part come with another; one that comes already gets the new quantity."""
    require(actor, head.shop, "may_design")
    if part.shop_id != head.shop_id:
        raise ValueError("a kit is of one shop")
    if part.pk == head.pk:
        raise KitRefused("A part does not come with itself.")
    items = KitItem.objects.filter(head=head)
    item = items.filter(part=part).first() or KitItem(head=head, part=part)
    if item.pk is None and items.count() >= MOST_ITEMS:
        raise KitRefused(f"At most {MOST_ITEMS} parts come with one.")
    item.quantity, item.per = quantity, per
    item.full_clean()
    item.save()
    detail = f"{head.sku}: {item.quantity:f} {part.sku} {item.get_per_display()}"
    log(shop=head.shop, actor=actor, verb="kit changed", detail=detail, at=at)
    return item


@in_english
@transaction.atomic
def kit_item_remove(*, item: KitItem, actor: User, at: datetime) -> None:
    """Have a part come with another no more. Quotes keep their lines."""
    require(actor, item.head.shop, "may_design")
    detail = f"{item.head.sku}: without {item.part.sku}"
    log(shop=item.head.shop, actor=actor, verb="kit changed", detail=detail, at=at)
    item.delete()
