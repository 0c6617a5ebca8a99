"""The forms of a table: one for each step of a code, on one page, and what "as planned" fills in."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django.http import QueryDict

from checklists.forms.step import StepForm
from checklists.rules.fields import CHOICE, LINES, NUMBER, PHOTO, SEVERAL, SIGNATURE, TICK
from checklists.rules.install import StepInfo
from checklists.rules.judging import FieldMark

#: Kinds that nothing planned can stand for: a person looks, scans or signs.
_NEVER = frozenset({PHOTO, SEVERAL, SIGNATURE, "serial"})
_FOOT = re.compile(r"_\d+$")


def prefix_of(step: StepInfo) -> str:
    """Return what the names of a step's inputs begin with on a page of many steps."""
    return f"r{step.pk}"


def planned_value(found: FieldMark) -> Any:
    """Return what "as planned" writes into an empty cell; None where a meter or a person has to say it."""
    spec = found.spec
    if spec.measured or spec.kind in _NEVER or spec.name.startswith("not_here"):
        return None
    if spec.kind == TICK:
        return True
    if spec.kind == LINES:
        return None if spec.ordered else ",".join(key for key, _ in spec.lines)
    if spec.tick is not None:
        return int(spec.tick) if spec.whole else spec.tick
    if found.expected not in (None, ""):
        return found.expected if _fits(found) else None
    return spec.accept[0] if spec.kind == CHOICE and len(spec.accept) == 1 else None


def _fits(found: FieldMark) -> bool:
    if found.spec.kind == CHOICE:
        return str(found.expected) in {key for key, _ in found.spec.choices}
    return found.spec.kind != NUMBER or isinstance(found.expected, int | float)


def with_planned(data: QueryDict, forms: Sequence[StepForm]) -> QueryDict:
    """Return what was typed, with every empty cell filled as planned; nothing is saved by it."""
    filled = data.copy()
    for form in forms:
        for found, value in _empty(form, data):
            name = form.add_prefix(found.spec.name)
            if found.spec.kind == TICK:
                filled.appendlist("tick", name)
            elif found.spec.kind == LINES:
                filled.setlist(name, value.split(","))
            else:
                filled[name] = str(form.fields[found.spec.name].prepare_value(value))
    return filled


def _empty(form: StepForm, data: QueryDict) -> Iterator[tuple[FieldMark, Any]]:
    for found in form.mark.fields:
        value = planned_value(found)
        name = form.add_prefix(found.spec.name)
        is_given = data.get(name, "").strip() or name in data.getlist("tick")
        if value is not None and not found.state.standing and not is_given:
            yield found, value


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
