"""Finds what a shop wrote lately at fields that ask the same of every job: meters, dies, lots of sealant.

A tube is read once, not at every job: the tablet offers these values as buttons, typing stays possible.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from typing import Any, Final

from checklists.models import StepEvent
from checklists.plan.templates import templates, versions
from checklists.rules.reducer import RECORD
from jobs.models import Shop

#: So many values of a kind are offered, the newest first; a button each. [-]
OFFERED: Final = 4
#: Events looked at for them, of all kinds together; a busy month has fewer. [-]
LOOKED_AT: Final = 600


def remembered(shop: Shop) -> dict[str, list[Any]]:
    """Return by group what was written last in this shop, the newest first, each value once."""
    groups = _groups()
    found: dict[str, list[Any]] = {}
    for version, code, field, value in _written(shop, sorted({field for _, _, field in groups})):
        known = found.setdefault(groups.get((version, code, field), ""), [])
        if value not in known and len(known) < OFFERED:
            known.append(value)
    found.pop("", None)
    return found


def _written(shop: Shop, fields: list[str]) -> Iterator[tuple[str, str, str, Any]]:
    rows = StepEvent.objects.filter(
        checklist__job__shop=shop, verb=RECORD, field__in=fields, photo=None, step__isnull=False
    ).order_by("-received_at", "-pk")
    yield from rows.values_list("checklist__template_version", "step__code", "field", "value")[:LOOKED_AT]


@functools.cache
def _groups() -> Mapping[tuple[str, str, str], str]:
    """Return by version, code and field the group whose values serve each other."""
    return {
        (version, row["code"], field["name"]): field["remember"]
        for version in versions()
        for row in templates(version)["steps"]
        for field in row["fields"]
        if "remember" in field
    }
