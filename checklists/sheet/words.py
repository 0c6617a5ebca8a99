"""Writes moments and recorded values for the sheet, and holds the texts every sheet carries."""

from __future__ import annotations

import functools
import json
import zoneinfo
from collections.abc import Collection, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from checklists.plan.roles import Role
from checklists.record.wording import mark_text
from checklists.rules.fields import PHOTO
from checklists.rules.holds import OpenItem
from checklists.rules.ink import ink_svg, ink_words, is_ink
from checklists.rules.install import Install, StepInfo
from checklists.rules.judging import FieldMark, Mark

_TEXTS: Final = Path(__file__).parent.parent / "data" / "sheet_texts.json"
#: What is printed where a paper tells what nobody recorded yet.
PLANNED: Final = "Planned"
#: What a mark is called on paper.
_VERDICTS: Final = {
    Mark.OK: "pass",
    Mark.CAUTION: "caution",
    Mark.FAIL: "block",
    Mark.CONFLICT: "block",
    Mark.MISSING: "not_enough_data",
    Mark.BLANK: "",
}


@functools.cache
def texts() -> dict[str, list[str]]:
    """Return the texts that every sheet carries."""
    found: dict[str, list[str]] = json.loads(_TEXTS.read_text(encoding="utf-8"))
    return found


def when(at: datetime | None, zone: str) -> str:
    """Return a moment in the shop's zone, with the zone: ``Nov 25, 2026, 9:14 AM MST``."""
    if at is None:
        return ""
    there = at.astimezone(zoneinfo.ZoneInfo(zone))
    return f"{there:%b} {there.day}, {there:%Y}, {there.hour % 12 or 12}:{there:%M %p %Z}"


def is_done(install: Install, *roles: str) -> bool:
    """Return whether every step of these roles that the job has is through."""
    return all(install.mark(step).is_done for role in roles for step in install.of_role(role))


def holes_counted(install: Install, panel: str | None = None) -> bool:
    """Return whether the holes of a panel, or all in the roof, are those counted there; else as planned."""
    names = install.fitted.feet if panel is None else [panel]
    per_foot = install.value(Role.SEAL_UNDER, "fasteners_per_foot")
    feet = [install.value(Role.FEET, "feet", f"panel:{name}") for name in names if install.fitted.feet[name]]
    is_gland = panel is None and bool(install.fitted.gland_screws)
    gland = [install.value(Role.SEAL_UNDER, "gland_screws", "gland:box")] if is_gland else []
    return None not in (*([per_foot] if feet else []), *feet, *gland)


def verdict_of(mark: Mark) -> str:
    """Return the verdict a mark prints as; empty where nothing was asked."""
    return _VERDICTS[mark]


def recorded_rows(install: Install, roles: Collection[str], units: str) -> list[dict[str, Any]]:
    """Return what was recorded at the steps of these roles, a row a field, in the order of the work."""
    return [row for step in install.in_scope if step.role in roles for row in _rows(install, step, units)]


def _rows(install: Install, step: StepInfo, units: str) -> Iterator[dict[str, Any]]:
    for found in install.mark(step).fields:
        if found.spec.kind == PHOTO or found.spec.name == "safety":
            continue
        if not found.state.is_recorded and found.mark is Mark.BLANK:
            continue
        yield recorded(step, found, units) | let_stand(install, step, found)


def let_stand(install: Install, step: StepInfo, found: FieldMark) -> dict[str, str]:
    """Return who let a value stand that is not right, and why; nothing where nobody did."""
    item = OpenItem(step, found.sentence, failed=found if found.mark is Mark.FAIL else None)
    by = next((each for each in install.overrides if item.is_covered_by(each.covers)), None)
    if by is None or found.mark not in {Mark.FAIL, Mark.MISSING}:
        return {}
    return {"let_stand": f"let stand by {by.by_name}: “{by.reason}”"}


def recorded(step: StepInfo, found: FieldMark, units: str) -> dict[str, Any]:
    """Return one field as a row: value, unit, band, verdict, and how often it was read again."""
    row = {
        "code": step.code,
        "title": step.title,
        "label": found.spec.label,
        "value": printed(found),
        "unit": found.spec.unit,
        "expected": found.expected if isinstance(found.expected, int | float) else None,
        "low": found.low,
        "high": found.high,
        "verdict": verdict_of(found.mark),
        "note": mark_text(found, units) if found.mark in {Mark.FAIL, Mark.CONFLICT, Mark.CAUTION} else "",
        "redo_count": found.state.redo_count,
    }
    return row | {"svg": ink_svg(found.value["ink"])} if is_ink(found.value) else row


def printed(found: FieldMark) -> Any:
    """Return the value as the sheet holds it: a choice and a signature in words."""
    value = found.value
    if is_ink(value):
        return ink_words(value)
    is_listed = found.spec.choices or found.spec.lines
    return found.spec.choice_label(value) if is_listed and value is not None else value
