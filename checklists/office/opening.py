"""Opens the install record of a job from the accepted quote's frozen design."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.db import transaction

from checklists.models import Checklist, Step
from checklists.plan.facts import plan_facts, quote_facts
from checklists.plan.steps import planned_steps
from checklists.plan.templates import newest_version
from checklists.tables.run import tables_task
from common.told import in_english
from jobs.design.revision import design_size
from jobs.engine.stored import design_in_full, latest_run
from jobs.models import Design, Quote, SizingRun
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName, System
from jobs.shop.log import log


@in_english
@transaction.atomic
def checklist_open(*, quote: Quote, at: datetime, version: str = "") -> Checklist:
    """Open the install record of the quote's job; one job has one, so a second call returns the first.

    ``version`` is the list of steps it is opened with; blank takes the newest.
    """
    existing = Checklist.objects.filter(job=quote.job_id).first()
    if existing is not None:
        return existing
    design = design_in_full(quote.design_id)
    run = quote.run or latest_run(design) or design_size(design=design, actor=System(), at=at)
    checklist = _checklist(design, run, quote, at, version or newest_version())
    transaction.on_commit(partial(_make_tables, checklist.pk))
    log(
        shop=design.job.shop,
        job=design.job,
        actor=ByName(quote.accepted_by_name),
        verb="install record opened",
        detail=str(design),
        at=at,
    )
    return checklist


def _checklist(design: Design, run: SizingRun, quote: Quote, at: datetime, version: str) -> Checklist:
    facts = plan_facts(design, run, version) | {"quote": quote_facts(quote)}
    units = design.job.shop.units
    checklist = Checklist.objects.create(
        job=design.job,
        design=design,
        run=run,
        template_version=version,
        scope=facts["scopes"],
        facts=facts,
        plan_svg=plan_svg(roof_state(design), shop_units=units),
        plan_units=units,
        opened_at=at,
    )
    Step.objects.bulk_create(
        Step(
            checklist=checklist,
            phase=planned.phase,
            code=planned.code,
            subject=planned.subject,
            position=position,
            title=planned.title,
            instruction=planned.instruction,
            fields=planned.fields,
            card=planned.card,
            is_hold=planned.is_hold,
            needs_lead=planned.needs_lead,
            is_in_scope=planned.is_in_scope,
            can_be_overridden=planned.can_be_overridden,
            re_runs=planned.re_runs,
        )
        for position, planned in enumerate(planned_steps(facts, version), start=1)
    )
    return checklist


def _make_tables(checklist_pk: int) -> None:
    """Have the tables for tablets made in the background: they take seconds."""
    tables_task.enqueue(checklist_pk)
