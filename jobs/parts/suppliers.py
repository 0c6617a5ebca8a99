"""How a supplier is written into the price book."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Supplier
from jobs.shop.log import log
from jobs.shop.rights import require


@in_english
@transaction.atomic
def supplier_save(*, supplier: Supplier, actor: User, at: datetime) -> Supplier:
    """Write a supplier of the shop."""
    require(actor, supplier.shop, "may_design")
    verb = "supplier changed" if supplier.pk else "supplier added"
    supplier.full_clean()
    supplier.save()
    log(shop=supplier.shop, actor=actor, verb=verb, detail=supplier.name, at=at)
    return supplier
