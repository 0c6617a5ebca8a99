"""Lists the remedies of a deviation for a page, with the cost of the wire for those who may see it."""

from __future__ import annotations

from typing import Any

from checklists.models import Deviation
from jobs.models import Part
from jobs.quote.materials import cable_cost


def options_of(deviation: Deviation, *, with_costs: bool) -> list[dict[str, Any]]:
    """Return the options as stored; ``with_costs`` adds the cost of the wire at today's catalog."""
    if not with_costs:
        return list(deviation.options)
    shop = deviation.checklist.job.shop
    cables = Part.objects.of_shop(shop).filter(kind=Part.Kind.CABLE, is_active=True)
    catalogue = list(cables.select_related("cable_sheet"))
    return [option | {"cost": _cost(option, catalogue)} for option in deviation.options]


def _cost(option: dict[str, Any], catalogue: list[Part]) -> Any:
    if not option.get("gauge") or option.get("kind") == "as_entered":
        return None
    return cable_cost(
        catalogue, circuit=option["circuit"], gauge=option["gauge"], run_len_m=option["run_len_m"]
    )
