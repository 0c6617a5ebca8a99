"""The shop's bays and crews."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Bay
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class BayRefused(Refusal):
    """The bay cannot be stored so; says why."""


@in_english
@transaction.atomic
def bay_save(*, bay: Bay, actor: User, at: datetime) -> Bay:
    """Store a bay or crew; one that still holds days stays what it is and in use."""
    require(actor, bay.shop, "may_design")
    stored = Bay.objects.select_for_update().filter(pk=bay.pk).first()
    if stored is not None:
        is_held = stored.held.filter(day__gte=at.date()).exists()
        if is_held and (not bay.is_active or bay.kind != stored.kind):
            raise BayRefused(f"{stored} has bookings to come. Move them first.")
    bay.full_clean()
    bay.save()
    log(shop=bay.shop, actor=actor, verb="bay saved", detail=bay.name, at=at)
    return bay
