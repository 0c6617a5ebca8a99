"""What a part costs, and what it cost before: every change is kept with who, when, how and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User

from jobs.models import Part, PriceChange
from jobs.shop.actor import name_of


@dataclass(frozen=True, slots=True)
class Because:
    """How a price came to change, and in whose words why."""

    way: str = PriceChange.Way.FORM
    why: str = ""


#: Rows are written so many at a time.
BATCH: Final = 500
#: Typed by somebody who said nothing more.
BY_HAND: Final = Because()


def stored_cost(part: Part) -> Decimal | None:
    """Return what a part costs by the catalog, locked until the change is stored; None for a new one."""
    if not part.pk:
        return None
    stored = Part.objects.select_for_update().only("cost", "shop_id")
    return stored.get(pk=part.pk).cost


def change_of(
    part: Part, old: Decimal | None, who: User, at: datetime, because: Because
) -> PriceChange | None:
    """Return the line to keep about a changed cost, not stored yet; None where it stays."""
    if old == part.cost:
        return None
    return PriceChange(
        part=part, old=old, new=part.cost, at=at, by=who, by_name=name_of(who), way=because.way,
        why=because.why,
    )  # fmt: skip


def cost_changes(parts: Sequence[Part], who: User, at: datetime, because: Because) -> list[PriceChange]:
    """Return the lines to keep about many parts, their stored costs locked until the changes are written."""
    stored = [part.pk for part in parts if part.pk]
    old: dict[int, Decimal] = {}
    for first in range(0, len(stored), BATCH):
        rows = Part.objects.select_for_update().filter(pk__in=stored[first : first + BATCH]).order_by("pk")
        old |= dict(rows.values_list("pk", "cost"))
    found = (change_of(part, old.get(part.pk), who, at, because) for part in parts)
    return [change for change in found if change is not None]
