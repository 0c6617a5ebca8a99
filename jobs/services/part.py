"""Knows how a part and its data sheet are written into the catalogue."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models, transaction

from jobs.models import Part
from jobs.services.log import log
from jobs.services.rights import require


@transaction.atomic
def part_save(*, part: Part, sheet: models.Model | None, actor: Any, at: datetime) -> Part:
    """Write a part with its data sheet, if its kind has one.

    Designs and quotes that were sized keep the numbers they were sized with: results are stored with inputs.
    """
    require(actor, part.shop, "may_design")
    verb = "part changed" if part.pk else "part added"
    part.full_clean()
    part.save()
    if sheet is not None:
        sheet.part = part  # type: ignore[attr-defined]
        sheet.full_clean()
        sheet.save()
    log(shop=part.shop, actor=actor, verb=verb, detail=f"{part.sku} {part.name}", at=at)
    return part
