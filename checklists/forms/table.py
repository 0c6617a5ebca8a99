"""The forms of a table: one for each step of a code, on one page, and what "as planned" fills in."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django.http import QueryDict

from checklists.forms.step import StepForm
from checklists.rules.fields import CHOICE, LINES, NUMBER, PHOTO, SEVERAL, SIGNATURE, TICK
from checklists.rules.install import StepInfo
from checklists.rules.judging import FieldMark

#: Kinds that nothing planned can stand for: a person does it, looks, scans or signs.
_NEVER = frozenset({PHOTO, SEVERAL, SIGNATURE, TICK, LINES, "serial"})
_FOOT = re.compile(r"_\d+$")


def prefix_of(step: StepInfo) -> str:
    """Return what the names of a step's inputs begin with on a page of many steps."""
    return f"r{step.pk}"


def planned_value(found: FieldMark) -> Any:
    """Return what "as planned" writes into an empty cell; None where a meter or a person has to say it."""
    spec = found.spec
    if spec.measured or spec.kind in _NEVER or spec.name.startswith("not_here"):
        return None
    if spec.tick is not None:
        return int(spec.tick) if spec.whole else spec.tick
    if found.expected not in (None, ""):
        return found.expected if _fits(found) else None
    return spec.accept[0] if spec.kind == CHOICE and len(spec.accept) == 1 else None


def _fits(found: FieldMark) -> bool:
    if found.spec.kind == CHOICE:
        return str(found.expected) in {key for key, _ in found.spec.choices}
    return found.spec.kind != NUMBER or isinstance(found.expected, int | float)


def planned_initial(form: StepForm, data: QueryDict, *, is_row: bool) -> dict[str, Any]:
    """Return what a form begins with: what was typed, and in a row every empty cell as planned."""
    found: dict[str, Any] = {}
    for mark in form.mark.fields:
        name = form.add_prefix(mark.spec.name)
        given = data.getlist(name) if mark.spec.kind in {LINES, SEVERAL} else data.get(name, "").strip()
        planned = planned_value(mark) if is_row and not mark.state.standing else None
        if given or planned is not None:
            found[mark.spec.name] = given or planned
    return found


def with_all_feet(data: QueryDict, forms: Sequence[StepForm]) -> QueryDict:
    """Return what was ticked, with "all feet" of a row written out as one tick for each foot."""
    ticked = data.getlist("tick")
    filled = data.copy()
    for form in forms:
        for found in form.mark.fields:
            base = form.add_prefix(_FOOT.sub("", found.spec.name))
            if base in ticked and found.spec.name != _FOOT.sub("", found.spec.name):
                filled.appendlist("tick", form.add_prefix(found.spec.name))
    return filled


def left_out(data: Mapping[str, Any], forms: Sequence[StepForm]) -> list[StepForm]:
    """Return the forms of the rows that were marked as not applying."""
    chosen = set(data.getlist("leave"))  # type: ignore[attr-defined]  # a QueryDict of the page
    return [form for form in forms if form.prefix in chosen]


def with_reason(data: QueryDict, forms: Sequence[StepForm]) -> QueryDict:
    """Return what was posted, with the reason written at every row it was given for."""
    filled = data.copy()
    for form in left_out(data, forms):
        for name in ("not_here", "not_here_why", "not_here_visit"):
            given = data.get(name)
            if isinstance(given, str) and given:
                filled[form.add_prefix(name)] = given
    return filled
