"""Puts a later design revision to work while the install is under way.

Nothing that was recorded is rewritten or lost: events keep the revision they were recorded against, and only
the steps whose part or planned value changed are asked anew.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, PlanChange, Step
from checklists.plan.difference import Key, Plan, PlanTouch, key_of, plan_touch, source_names, with_old_names
from checklists.plan.facts import plan_facts
from checklists.plan.steps import PlannedStep
from checklists.record.deviations import deviations_refresh
from checklists.record.progress import job_follows
from checklists.record.read import work_of
from common.told import in_english
from jobs.design.revision import design_freeze
from jobs.engine.stored import design_in_full, latest_run
from jobs.engine.system import question_json
from jobs.models import Design, SizingRun
from jobs.shop.actor import name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_LENGTH: Final = 15
_WORDS: Final = ("title", "instruction", "fields", "card", "is_hold", "needs_lead", "can_be_overridden")


class PlanChangeRefused(Refusal):
    """The plan stays as it is; says why."""


def plan_change_preview(*, checklist: Checklist, design: Design) -> PlanTouch:
    """Return what a later revision would do to the steps; raise PlanChangeRefused when it cannot be used."""
    run = _usable_run(checklist, design)
    before = _plan_before(checklist)
    after = with_old_names(Plan(question_json(run), _facts(checklist, design, run)), before)
    return plan_touch(before, after, checklist.template_version)


@in_english
@transaction.atomic
def plan_change(
    *, checklist: Checklist, design: Design, reason: str, actor: User, at: datetime
) -> PlanChange:
    """Put a later revision to work: freeze it, ask the touched steps anew, size it again."""
    row = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "design", "run")
        .get(pk=checklist.pk)
    )
    require(actor, row.job.shop, "may_design")
    if len(reason.strip()) < REASON_LENGTH:
        raise PlanChangeRefused(f"Please give a reason of at least {REASON_LENGTH} characters.")
    found = plan_change_preview(checklist=row, design=design)
    run = _usable_run(row, design_freeze(design=design, actor=actor, at=at))
    change = _change(row, design, found, reason.strip(), actor, at)
    _restep(row, found, source_names(_plan_before(row), Plan(question_json(run), {})), design.number)
    _replan(row, design, run)
    log(
        shop=row.job.shop,
        job=row.job,
        actor=actor,
        verb="plan changed",
        detail=f"{change}; {len(found.touched)} steps asked again, {len(found.added)} added,"
        f" {len(found.gone)} not asked any more",
        reason=change.reason,
        at=at,
    )
    deviations_refresh(work=work_of(row), touched=set(), actor=actor, at=at)
    job_follows(work=work_of(row), actor=actor, at=at)
    return change


def _usable_run(checklist: Checklist, design: Design) -> SizingRun:
    """Return the sizing run of a revision that may be put to work."""
    if design.job_id != checklist.job_id or design.number <= checklist.design.number:
        raise PlanChangeRefused(f"Choose a revision later than {checklist.design.number} of this job.")
    if not checklist.job.is_in_install:
        raise PlanChangeRefused(
            f"The job is “{checklist.job.get_state_display()}”: its plan can no longer change."
        )
    run = latest_run(design)
    if run is None or design.unsized_reason:
        raise PlanChangeRefused(design.unsized_reason or "This revision is not worked out yet.")
    if run.verdict == "block":
        raise PlanChangeRefused("A check of this revision says block: fix the design first.")
    return run


def _plan_before(checklist: Checklist) -> Plan:
    return Plan(question_json(checklist.run), checklist.facts)


def _facts(checklist: Checklist, design: Design, run: SizingRun) -> dict[str, Any]:
    """Return the planned values of a revision, in the plain form in which they are stored."""
    facts = plan_facts(design_in_full(design.pk), run, checklist.template_version)
    facts |= {"quote": checklist.facts["quote"]}
    stored: dict[str, Any] = json.loads(json.dumps(facts))
    return stored


def _change(
    row: Checklist, design: Design, found: PlanTouch, reason: str, actor: User, at: datetime
) -> PlanChange:
    """Write down what was asked before."""
    kept = [step for step in row.steps.all() if (step.code, step.subject) in found.touched | found.gone]
    return PlanChange.objects.create(
        checklist=row,
        from_design=row.design,
        to_design=design,
        facts_before=row.facts,
        steps_before=[
            {"step": step.pk, "code": step.code, "subject": step.subject, "title": step.title,
             "fields": step.fields, "since_design": step.since_design}
            for step in kept
        ],
        reason=reason,
        by=actor,
        by_name=name_of(actor),
        at=at,
    )  # fmt: skip


def _restep(row: Checklist, found: PlanTouch, names: Mapping[str, str], number: int) -> None:
    """Bring the steps to the new plan; a step keeps its row, and with it everything recorded there."""
    steps = {(step.code, step.subject): step for step in row.steps.all()}
    for place, planned in enumerate(found.planned, start=1):
        key = key_of(planned)
        step = steps.pop(key, None)
        if step is None:
            step = Step(checklist=row, phase=planned.phase, code=planned.code, subject=planned.subject)
            _take_words(step, planned)
            step.since_design = number
        elif key in found.touched or key in found.added:
            _take_words(step, planned)
            step.since_design = number
        if key in found.gone:
            step.is_in_scope = False
        step.position = place
        step.subject = _renamed(key, names)
        step.save()
    for step in steps.values():  # a subject that is gone: out of scope, with its history
        step.is_in_scope = False
        step.save(update_fields=["is_in_scope"])


def _take_words(step: Step, planned: PlannedStep) -> None:
    for name in _WORDS:
        setattr(step, name, getattr(planned, name))
    step.re_runs, step.is_in_scope = planned.re_runs, planned.is_in_scope


def _renamed(key: Key, names: Mapping[str, str]) -> str:
    """Return the subject of a step as the new revision names it."""
    kind, _, name = key[1].partition(":")
    return f"source:{names.get(name, name)}" if kind == "source" else key[1]


def _replan(row: Checklist, design: Design, run: SizingRun) -> None:
    """Point the record at the new revision; what was built is worked out against it next."""
    row.facts = _facts(row, design, run)
    row.design, row.run, row.scope = design, run, row.facts["scopes"]
    row.save(update_fields=["facts", "design", "run", "scope"])
    row.as_built = None  # whatever stood is to be worked out anew, also when nothing stands
