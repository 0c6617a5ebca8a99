"""How a part and its data sheet are written into the catalog."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import models, transaction

import sizing
from common.told import in_english
from jobs.models import PanelSheet, Part, PriceChange, Shop
from jobs.parts import panel_curve
from jobs.parts.costs import BATCH, BY_HAND, Because, change_of, cost_changes, stored_cost
from jobs.parts.power_inputs import sheet_of
from jobs.shop.log import log
from jobs.shop.rights import require


@in_english
@transaction.atomic
def part_save(
    *,
    part: Part,
    sheet: models.Model | None,
    actor: User,
    at: datetime,
    module: sizing.ModuleData | None = None,
    because: Because = BY_HAND,
) -> Part:
    """Write a part with its data sheet, if its kind has one; ``module`` is the row of the open list it is.

    Where its cost changes, the old one is kept with who, when and ``because``.
    Designs and quotes that were sized keep the numbers they were sized with: results are stored with inputs.
    """
    require(actor, part.shop, "may_design")
    if sheet is not None and sheet.pk and sheet.part_id != part.pk:  # type: ignore[attr-defined]  # as below
        raise ValueError("a data sheet stays with its part")
    verb = "part changed" if part.pk else "part added"
    part.full_clean()
    changed = change_of(part, stored_cost(part), actor, at, because)
    part.save()
    if changed is not None:
        changed.save()
    if sheet is not None:
        sheet.part = part  # type: ignore[attr-defined]  # one of the kinds of sheet
        if module is not None and isinstance(sheet, PanelSheet):
            sheet.curve = panel_curve.curve_of_module(sheet, module)
        sheet.full_clean()
        sheet.save()
    log(shop=part.shop, actor=actor, verb=verb, detail=f"{part.sku} {part.name}", at=at)
    return part


@in_english
@transaction.atomic
def parts_import(
    *, shop: Shop, rows: Sequence[tuple[Part, models.Model | None]], actor: User, at: datetime
) -> int:
    """Write the parts of a table with their data sheets, all or none; return how many."""
    require(actor, shop, "may_design")
    if any(part.shop_id != shop.pk for part, _ in rows):
        raise ValueError("the parts of a table belong to one shop")
    parts = [part for part, _ in rows]
    new = sum(part.pk is None for part in parts)
    changes = cost_changes(parts, actor, at, Because(PriceChange.Way.IMPORT))
    for one in parts:
        one.clean_fields(exclude={"shop", "supplier"})
    write_all(Part, parts)
    sheets: dict[type[models.Model], list[models.Model]] = {}
    for part, sheet in rows:
        if sheet is not None:
            sheet.part = part  # type: ignore[attr-defined]  # one of the kinds of sheet
            sheet.clean_fields(exclude={"part"})
            sheets.setdefault(type(sheet), []).append(sheet)
    for model, found in sheets.items():
        write_all(model, found)
    PriceChange.objects.bulk_create(changes, batch_size=BATCH)
    detail = f"{new} added, {len(rows) - new} changed"
    log(shop=shop, actor=actor, verb="parts imported", detail=detail, at=at)
    return len(rows)


@in_english
@transaction.atomic
def prices_import(*, shop: Shop, parts: Sequence[Part], why: str, actor: User, at: datetime) -> int:
    """Write the costs of parts that a price list named, all or none; return how many."""
    require(actor, shop, "may_design")
    if any(part.shop_id != shop.pk for part in parts):
        raise ValueError("the parts of a table belong to one shop")
    changes = cost_changes(parts, actor, at, Because(PriceChange.Way.IMPORT, why[:160]))
    for part in parts:
        part.clean_fields(exclude={"shop", "supplier"})
    Part.objects.bulk_update(parts, ["cost"], batch_size=BATCH)
    PriceChange.objects.bulk_create(changes, batch_size=BATCH)
    detail = f"{len(parts)} costs changed"
    log(shop=shop, actor=actor, verb="prices imported", detail=detail, reason=why, at=at)
    return len(parts)


def write_all(model: type[models.Model], rows: Sequence[models.Model]) -> None:
    """Write new and stored rows in batches; stored ones as a whole, which takes a tenth of an update each."""
    names = [field.name for field in model._meta.concrete_fields if not field.primary_key]
    new, stored = ([row for row in rows if (row.pk is None) is is_new] for is_new in (True, False))
    table = model._default_manager
    table.bulk_create(new, batch_size=BATCH)
    table.bulk_create(
        stored, batch_size=BATCH, update_conflicts=True, unique_fields=["id"], update_fields=names
    )


@in_english
@transaction.atomic
def panel_fit(*, part: Part, actor: User, at: datetime) -> PanelSheet:
    """Fit the single-diode model to a panel's sheet and keep it; raise NoCurve where there is none."""
    require(actor, part.shop, "may_design")
    sheet: PanelSheet = sheet_of(part, "panel_sheet")
    sheet.curve = panel_curve.curve_fitted(sheet)
    sheet.save(update_fields=["curve"])
    log(shop=part.shop, actor=actor, verb="panel fitted", detail=f"{part.sku} {part.name}", at=at)
    return sheet
