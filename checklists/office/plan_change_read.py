"""Reads the later design revisions of a job and what each would change, for the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from checklists.models import Checklist
from checklists.office.plan_change import plan_change_preview
from checklists.plan.difference import Key, key_of
from checklists.record.read import work_of
from jobs.models import Design
from jobs.shop.refusals import Refusal


@dataclass(frozen=True, slots=True)
class TouchedRow:
    """One step that would be asked anew, added, or not asked any more."""

    code: str
    title: str
    is_recorded: bool


@dataclass(frozen=True, slots=True)
class Revision:
    """A later revision and what it would do; ``problem`` says why it cannot be used."""

    design: Design
    touched: tuple[TouchedRow, ...] = ()
    added: tuple[TouchedRow, ...] = ()
    gone: tuple[TouchedRow, ...] = ()
    problem: str = ""


def later_designs(checklist: Checklist) -> QuerySet[Design]:
    """Return the revisions of the job that are later than the plan in use."""
    found = Design.objects.filter(job=checklist.job_id, number__gt=checklist.design.number)
    return found.order_by("-number")


def later_revisions(checklist: Checklist) -> list[Revision]:
    """Return each later revision with the steps it would touch."""
    work = work_of(checklist)
    recorded = {
        (step.code, step.subject): bool(work.install.whole_state(step).standing)
        for step in work.install.steps
    }
    titles = {(step.code, step.subject): step.title for step in work.install.steps}
    return [_revision(checklist, design, titles, recorded) for design in later_designs(checklist)]


def _revision(
    checklist: Checklist, design: Design, titles: dict[Key, str], recorded: dict[Key, bool]
) -> Revision:
    try:
        found = plan_change_preview(checklist=checklist, design=design)
    except Refusal as refusal:
        return Revision(design, problem=str(refusal))
    named = titles | {key_of(step): step.title for step in found.planned}

    def rows(keys: Any) -> tuple[TouchedRow, ...]:
        ordered = sorted(keys, key=lambda key: (key[0][0], int("".join(filter(str.isdigit, key[0]))), key[1]))
        return tuple(TouchedRow(key[0], named[key], recorded.get(key, False)) for key in ordered)

    return Revision(design, rows(found.touched), rows(found.added), rows(found.gone))
