"""Builds the page of a table: all steps of one code, a row for each thing, the common fields around it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from checklists.forms.step import StepForm
from checklists.forms.table import planned_value
from checklists.models import Deviation
from checklists.office.overview import page_of
from checklists.office.step import LEAVING, Doubt, Extra, FieldView, extra_of, field_view
from checklists.record.read import Work
from checklists.rules.fields import LINES, PHOTO, SEVERAL, SIGNATURE
from checklists.rules.install import StepInfo

_FOOT = re.compile(r"_\d+$")
#: Kinds that are looked at on the page of their row.
_APART = frozenset({PHOTO, SEVERAL, SIGNATURE, LINES})


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: a field of a row, or all feet of it."""

    fields: tuple[FieldView, ...]
    key: str
    is_many: bool = False

    @property
    def field(self) -> FieldView | None:
        """Return the field of a cell of one; None where the row has none."""
        return self.fields[0] if self.fields else None

    @property
    def is_apart(self) -> bool:
        """Return whether it is filled on the row's own page."""
        return bool(self.fields) and self.fields[0].spec.kind in _APART

    @property
    def counted(self) -> str:
        """Return how many holes of all feet stand, of how many."""
        have = sum(each.mark.value or 0 for each in self.fields)
        return f"{have:g} of {sum(each.spec.tick or 1 for each in self.fields):g}"

    @property
    def is_begun(self) -> bool:
        """Return whether something stands at one of the feet."""
        return any(each.standing for each in self.fields)


@dataclass(frozen=True, slots=True)
class Row:
    """One thing of the table."""

    step: StepInfo
    form: StepForm
    cells: tuple[Cell, ...]
    locks: tuple[str, ...]
    reason: str  # why it does not apply; empty when it does

    @property
    def title(self) -> str:
        """Return the name of the thing, without that of the step."""
        return self.step.row_title


@dataclass(frozen=True, slots=True)
class Common:
    """The fields that all rows have in common."""

    step: StepInfo
    form: StepForm
    fields: tuple[FieldView, ...]
    locks: tuple[str, ...]


@dataclass(slots=True)
class TablePage:
    """Everything the page of a table prints."""

    code: str
    title: str
    instructions: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    commons: tuple[Common, ...]
    safety: tuple[str, ...]
    card: tuple[str, ...]
    holds: tuple[Any, ...]
    deviations: tuple[Deviation, ...]
    previous: StepInfo | None
    following: StepInfo | None
    design_number: int
    reasons: tuple[tuple[str, str], ...]
    can_be_planned: int
    extra: Extra | None = None
    doubts: tuple[Doubt, ...] = field(default=())
    previous_page: str = ""
    following_page: str = ""

    @property
    def locks(self) -> tuple[str, ...]:
        """Return why nothing may be recorded here; empty when one row is open."""
        return () if any(not row.locks for row in self.rows) or not self.rows else self.rows[0].locks


def steps_of_table(work: Work, step: StepInfo) -> tuple[StepInfo, ...]:
    """Return all steps in scope of a step's code."""
    return tuple(each for each in work.install.in_scope if each.code == step.code)


def is_table(steps: Sequence[StepInfo]) -> bool:
    """Return whether these steps of one code are asked of several things."""
    return len(steps) > 1 and any(step.subject for step in steps)


def table_page(work: Work, forms: Sequence[tuple[StepInfo, StepForm]], *, units: str) -> TablePage:
    """Return the page of a table from the forms of its steps."""
    steps = [step for step, _ in forms]
    rows = [(step, form) for step, form in forms if step.subject]
    columns = _columns([step for step, _ in rows], work)
    scope = work.install.in_scope
    first, last = scope.index(steps[0]), scope.index(steps[-1])
    common = next((step for step in steps if not step.subject), steps[0])
    pks = {step.pk for step in steps}
    open_rows = tuple(row for row in work.deviations if row.step_id in pks)
    before, after = scope[first - 1] if first else None, scope[last + 1] if last + 1 < len(scope) else None
    return TablePage(
        code=steps[0].code,
        title=common.title.partition(": ")[0],
        instructions=tuple(dict.fromkeys(step.instruction for step in steps if step.instruction)),
        columns=tuple(columns.values()),
        rows=tuple(_row(work, step, form, columns, units) for step, form in rows),
        commons=tuple(_common(work, step, form, units) for step, form in forms if not step.subject),
        safety=steps[0].traits.safety,
        card=tuple(dict.fromkeys(c["says"] for step in steps for c in step.card if c["when"] == "always")),
        holds=tuple(work.holds.of_step(step) for step in steps if step.is_hold),
        deviations=tuple(row for row in open_rows if row.state != Deviation.State.RESOLVED),
        previous=before,
        following=after,
        previous_page=page_of(work, before) if before else "",
        following_page=page_of(work, after) if after else "",
        design_number=work.checklist.design.number,
        reasons=_reasons(forms),
        can_be_planned=sum(1 for _, form in rows for each in form.mark.fields if _is_plannable(each)),
        extra=extra_of(work, common),
    )


def _is_plannable(found: Any) -> bool:
    return planned_value(found) is not None and not found.state.standing


def _reasons(forms: Sequence[tuple[StepInfo, StepForm]]) -> tuple[tuple[str, str], ...]:
    """Return the reasons for which a row may not apply, as far as all rows allow them."""
    found = [
        each.spec.choices for _, form in forms for each in form.mark.fields if each.spec.name == "not_here"
    ]
    if not found:
        return ()
    return tuple(pair for pair in found[0] if all(pair in other for other in found))


def _columns(steps: Sequence[StepInfo], work: Work) -> dict[str, str]:
    """Return the columns over all rows: name → words; all feet of a row are one."""
    found: dict[str, str] = {}
    for step in steps:
        for spec in work.install.specs(step):
            if spec.name in LEAVING:
                continue
            base = _FOOT.sub("", spec.name) if spec.tick is not None else spec.name
            words = re.sub(r"\b(F|f)oot \d+", r"\1eet", spec.label) if base != spec.name else spec.label
            found.setdefault(base, words)
    return found


def _row(work: Work, step: StepInfo, form: StepForm, columns: dict[str, str], units: str) -> Row:
    views = {each.spec.name: each for each in _views(work, step, form, units)}
    reason = work.install.state(step)["not_here"].value
    choices = dict(views["not_here"].spec.choices) if "not_here" in views else {}
    return Row(
        step=step,
        form=form,
        cells=tuple(_cell(name, views, form) for name in columns),
        locks=work.holds.locks(step),
        reason=choices.get(str(reason), "") if reason else "",
    )


def _cell(name: str, views: dict[str, FieldView], form: StepForm) -> Cell:
    if name in views:
        return Cell((views[name],), form.add_prefix(name))
    feet = tuple(each for key, each in views.items() if _FOOT.sub("", key) == name and key != name)
    return Cell(feet, form.add_prefix(name), is_many=bool(feet))


def _common(work: Work, step: StepInfo, form: StepForm, units: str) -> Common:
    views = _views(work, step, form, units)
    asked = tuple(each for each in views if each.spec.name not in LEAVING)
    return Common(step, form, asked, work.holds.locks(step))


def _views(work: Work, step: StepInfo, form: StepForm, units: str) -> Iterator[FieldView]:
    whole = work.install.whole_state(step)
    for found in form.mark.fields:
        yield field_view(found, form, step, units, whole[found.spec.name].standing)
