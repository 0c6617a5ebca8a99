"""Tells what was built otherwise than planned, value by value; what is as planned is not listed."""

from __future__ import annotations

from typing import Any, Final

from checklists.record.read import Work
from checklists.record.wording import value_text
from checklists.rules.fields import CHOICE, NUMBER
from checklists.rules.judging import FieldMark
from checklists.sheet.words import printed

#: Circuits are told in their own table, reading by reading.
_OWN_TABLE: Final = "circuit:"
_FUSE: Final = ".fuse_a"


def built_otherwise(work: Work) -> list[dict[str, Any]]:
    """Return each recorded value that is another one than the plan's, in the order of the work."""
    units = work.checklist.job.shop.units
    return [
        {
            "code": step.code,
            "title": step.title,
            "label": found.spec.label,
            "unit": found.spec.unit,
            "planned": _shown(found, found.spec.expected),
            "built": printed(found),
            "by": ", ".join(sorted({event.by_name for event in found.state.standing})),
        }
        for step in work.install.in_scope
        for found in work.install.mark(step).fields
        if _is_otherwise(found, units)
    ]


def _is_otherwise(found: FieldMark, units: str) -> bool:
    """Return whether a value is another one than planned, as the shop would read both."""
    spec, value = found.spec, found.value
    if spec.kind not in {NUMBER, CHOICE} or spec.feeds.startswith(_OWN_TABLE):
        return False
    if value in (None, ""):
        return False
    if spec.expected in (None, ""):
        return spec.feeds.endswith(_FUSE)  # a fuse the plan has none of
    return value_text(found, value, units) != value_text(found, spec.expected, units)


def _shown(found: FieldMark, value: Any) -> Any:
    return found.spec.choice_label(value) if found.spec.choices else value
