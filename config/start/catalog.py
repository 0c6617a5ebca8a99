"""Copies the invented catalog of the demo into a shop, for a first day without typing."""

from __future__ import annotations

import json
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.db import transaction

from jobs.models import Part, Shop

FIXTURE: Final = "demo_shop.json"


@transaction.atomic
def catalog_copy(shop: Shop) -> int:
    """Give a shop the parts whose stock code it lacks; return how many. The names are invented."""
    rows = json.loads((settings.FIXTURE_DIRS[0] / FIXTURE).read_text())
    have = set(Part.objects.filter(shop=shop).values_list("sku", flat=True))
    made: dict[int, Part] = {}
    for row in rows:
        if row["model"] == "jobs.part" and row["fields"]["sku"] not in have:
            made[row["pk"]] = Part.objects.create(**row["fields"] | {"shop": shop})
    for row in rows:
        if row["fields"].get("part") in made and row["model"].endswith("sheet"):
            _sheet(row, made)
    return len(made)


def _sheet(row: dict[str, Any], made: dict[int, Part]) -> None:
    model = apps.get_model(row["model"])
    model.objects.create(**row["fields"] | {"part": made[row["fields"]["part"]]})
