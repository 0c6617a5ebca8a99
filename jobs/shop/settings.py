"""How a shop's own settings change."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.models import Shop
from jobs.shop.log import log
from jobs.shop.rights import require


@transaction.atomic
def shop_save(*, shop: Shop, changed: Iterable[str], actor: User, at: datetime) -> Shop:
    """Write the shop's settings and log which ones changed. Sent quotes keep their rates."""
    require(actor, shop, "is_owner")
    shop.full_clean()
    shop.save()
    names = ", ".join(sorted(changed))
    if names:
        log(shop=shop, actor=actor, verb="shop settings changed", detail=names, at=at)
    return shop
