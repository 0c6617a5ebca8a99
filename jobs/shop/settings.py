"""How a shop's own settings change."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Shop
from jobs.shop.log import log
from jobs.shop.rights import require

#: NIST SP 811 (2008), appendix B.8.
KM_PER_MILE: Final = Decimal("1.609344")
_PER_WAY: Final = ("mile_rate", "mile_cost")


@in_english
@transaction.atomic
def shop_save(*, shop: Shop, changed: Iterable[str], actor: User, at: datetime) -> Shop:
    """Write the shop's settings and log which ones changed. Sent quotes keep their rates."""
    require(actor, shop, "is_owner")
    names_set = set(changed)
    if "units" in names_set:
        names_set |= _rates_turned(shop, names_set)
    shop.full_clean()
    shop.save()
    names = ", ".join(sorted(names_set))
    if names:
        log(shop=shop, actor=actor, verb="shop settings changed", detail=names, at=at)
    return shop


def _rates_turned(shop: Shop, changed: set[str]) -> set[str]:
    """Turn rates per mile into rates per kilometer, or back, unless they were typed anew; return which."""
    turned = set(_PER_WAY) - changed
    for name in turned:
        rate: Decimal = getattr(shop, name)
        is_metric = shop.units == Shop.Units.METRIC
        new = rate / KM_PER_MILE if is_metric else rate * KM_PER_MILE
        setattr(shop, name, new.quantize(Decimal("0.01"), ROUND_HALF_UP))
    return turned
