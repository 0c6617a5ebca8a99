"""Begins, changes, sizes and freezes a design revision. Its parts are changed in the modules beside it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

import sizing
from common.told import in_english
from jobs.customers.job import job_move
from jobs.design.checks import extra_checks, is_of_the_office
from jobs.design.copy import copy_parts
from jobs.design.noted import notes_follow
from jobs.engine.stored import design_in_full, latest_run, result_of
from jobs.engine.system import built_input, input_to_json, result_to_json, system_basis, system_input
from jobs.models import Design, DesignSource, ExistingItem, Job, SizingRun
from jobs.parts import power_inputs
from jobs.parts.circuits import missing_circuits, wanted_circuits
from jobs.roof.layout import roof_json
from jobs.roof.read import roof_state
from jobs.roof.wires import take_drawn
from jobs.shade.run import shade_follow
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

_BEFORE_DESIGN = {
    Job.State.ENQUIRY,
    Job.State.SURVEY_BOOKED,
    Job.State.SURVEYED,
    Job.State.DECLINED,
    Job.State.EXPIRED,
}


class DesignRefused(Refusal):
    """A design may not be changed or sized so; says why."""


class DesignChangedMeanwhile(DesignRefused):
    """Somebody else changed the design after this form was opened."""


@dataclass(frozen=True, slots=True)
class Change:
    """Who changes a design, when, and which state of it they saw (None: the newest)."""

    actor: User
    at: datetime
    seen: int | None = None
    key: uuid.UUID | None = None


@in_english
@transaction.atomic
def design_create(*, job: Job, actor: User, at: datetime, copy_of: Design | None = None) -> Design:
    """Open the next revision of a job: a copy of another, or an empty one with the chargers that stay."""
    require(actor, job.shop, "may_design")
    if not job.is_open:
        raise DesignRefused("This job is closed: its design can no longer change.")
    if copy_of is not None and copy_of.job_id != job.pk:
        raise DesignRefused("A revision can only be copied within its own job.")
    job = Job.objects.select_for_update(of=("self",)).select_related("shop").get(pk=job.pk)
    design = Design(job=job, number=_next_number(job), rule_set=job.shop.rule_set)
    design.created_by_name = name_of(actor)
    if copy_of is not None:
        copy_parts(copy_of, design)
    else:
        design.save()
        _keep_chargers(design)
        propose_circuits(design)
    if job.state in _BEFORE_DESIGN:
        job_move(job=job, to=Job.State.DESIGNING, actor=actor, at=at)
    detail = f"{design}, copied from revision {copy_of.number}" if copy_of else str(design)
    log(shop=job.shop, job=job, actor=actor, verb="design begun", detail=detail, at=at)
    design_resize(design, actor=actor, at=at)
    if copy_of is not None:
        notes_follow(copy_of, design)
    return design


@in_english
@transaction.atomic
def design_change(
    design: Design, change: Change, verb: str, apply: Callable[[Design], str | None]
) -> SizingRun | None:
    """Apply a change to a draft design, log it and size the design anew; the one door for all changes.

    ``apply`` changes the records and returns a word for the log. Return the new answer, or None when the
    design cannot be put to the sizing face yet (the design then says why). Raise NotAllowed for a person
    who may not, DesignRefused for a frozen design, DesignChangedMeanwhile when ``change.seen`` is out of
    date. The same ``change.key`` twice is done once.
    """
    locked = (
        Design.objects.select_for_update(of=("self",))
        .select_related("job__shop", "job__survey")
        .get(pk=design.pk)
    )
    require(change.actor, locked.job.shop, "may_design")
    if locked.is_frozen:
        raise DesignRefused(
            f"Revision {locked.number} is frozen and stays as it is. Make a new revision to change it."
        )
    if change.key is not None and change.key == locked.last_edit_key:
        return latest_run(locked)
    if change.seen is not None and change.seen != locked.edit_count:
        raise DesignChangedMeanwhile(
            "Somebody changed this revision after you opened this form. What you typed is still below: "
            "compare it with the design and save again."
        )
    try:
        detail = apply(locked) or ""
    except ValidationError as problem:
        raise DesignRefused(" ".join(problem.messages)) from problem
    locked.edit_count += 1
    locked.last_edit_key = change.key
    locked.save(update_fields=["edit_count", "last_edit_key"])
    log(
        shop=locked.job.shop,
        job=locked.job,
        actor=change.actor,
        verb=verb,
        detail=f"{locked}. {detail}".strip(),
        at=change.at,
    )
    return design_resize(locked, actor=change.actor, at=change.at)


def design_resize(design: Design, *, actor: Actor, at: datetime) -> SizingRun | None:
    """Size a draft anew; when it cannot be asked, write down why, so that no older answer stands for it."""
    reason, run = "", None
    _lengths_follow(design)
    try:
        run = design_size(design=design, actor=actor, at=at)
    except Refusal as refusal:
        reason = str(refusal)
    Design.objects.filter(pk=design.pk).update(unsized_reason=reason)
    design.unsized_reason = reason
    if run is not None:
        shade_follow(design, actor=actor, at=at)
    return run


@in_english
@transaction.atomic
def design_size(*, design: Design, actor: Actor, at: datetime) -> SizingRun:
    """Ask the sizing face once and store question and answer, the roof layout's checks among them.

    Raise DesignRefused when the design cannot be put as a question (a part without a data sheet, a value
    out of range) and when a frozen design that was already sized would be sized again.
    """
    full = design_in_full(design.pk)
    if full.is_frozen and latest_run(full) is not None:
        raise DesignRefused(f"Revision {full.number} is frozen: its numbers stay as they were accepted.")
    roof = roof_state(full)
    try:
        system = system_input(roof, system_basis(full))
        result = sizing.size_system(system)
    except sizing.InputOutOfRange as problem:
        raise DesignRefused(f"This design cannot be sized yet. {problem}") from problem
    result = replace(result, checks=(*result.checks, *extra_checks(full, roof)))
    run = SizingRun(design=design, purpose=SizingRun.Purpose.PLANNED, roof=roof_json(roof.surveyed))
    return _stored(run, system, result, actor, at)


@in_english
@transaction.atomic
def design_size_built(
    *, accepted: SizingRun, as_built: Mapping[str, Any], actor: Actor, at: datetime
) -> SizingRun:
    """Size what was accepted with the values as built over it; survey and catalog are not read again.

    The office's own checks (layout, things left out) stand as accepted: nothing built changes them. Raise
    DesignRefused or AsBuiltKeyUnknown when the values cannot be worked out together.
    """
    try:
        system = built_input(accepted, as_built)
        result = sizing.size_system(system)
    except sizing.InputOutOfRange as problem:
        raise DesignRefused(f"This cannot be sized as built. {problem}") from problem
    office = tuple(check for check in result_of(accepted).checks if is_of_the_office(check))
    result = replace(result, checks=(*result.checks, *office))
    run = SizingRun(design=accepted.design, purpose=SizingRun.Purpose.AS_BUILT, roof=accepted.roof)
    return _stored(run, system, result, actor, at)


def _stored(
    run: SizingRun, system: sizing.SystemInput, result: sizing.SystemResult, actor: Actor, at: datetime
) -> SizingRun:
    run.inputs, run.result = input_to_json(system), result_to_json(result)
    run.verdict, run.engine_version = str(result.verdict), result.engine_version
    run.at, run.by_name = at, name_of(actor)
    run.save()
    return run


def _lengths_follow(design: Design) -> None:
    """Let drawn wire follow panels, survey and drawing: the schedule never holds an older length."""
    if not design.controllers.filter(combiner_x_m__isnull=False).exists():
        return
    for circuit in take_drawn(design_in_full(design.pk)):
        circuit.save(update_fields=["run_len_m", "confidence"])


@in_english
@transaction.atomic
def design_freeze(*, design: Design, actor: Actor, at: datetime) -> Design:
    """Freeze a design as accepted: it is sized a last time if it never was, then never changed."""
    locked = Design.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=design.pk)
    if locked.is_frozen:
        return locked
    if latest_run(locked) is None:
        design_size(design=locked, actor=actor, at=at)
    locked.state = Design.State.FROZEN
    locked.save(update_fields=["state"])
    log(shop=locked.job.shop, job=locked.job, actor=actor, verb="design frozen", detail=str(locked), at=at)
    return locked


def circuits_wanted(design: Design) -> frozenset[tuple[str, str]]:
    """Return the circuits the chosen parts need now, by kind and what they serve."""
    return frozenset((one.kind, one.serves) for one in wanted_circuits(design_in_full(design.pk)))


def propose_circuits(design: Design, but_for: frozenset[tuple[str, str]] = frozenset()) -> int:
    """Add the circuits the chosen parts need and the schedule lacks, ``but_for`` some; return how many."""
    missing = missing_circuits(design_in_full(design.pk), but_for)
    for circuit in missing:
        circuit.design = design
        circuit.full_clean()
        circuit.save()
    return len(missing)


def _next_number(job: Job) -> int:
    return (job.designs.aggregate(last=Max("number"))["last"] or 0) + 1


def _keep_chargers(design: Design) -> None:
    """Take over what stays on the vehicle and charges the bank, where its amps are known."""
    kept = ExistingItem.objects.filter(
        survey__job=design.job,
        fate=ExistingItem.Fate.KEEP,
        kind__in=power_inputs.CHARGING_KINDS,
        rating_a__isnull=False,
    )
    for item in kept:
        DesignSource.objects.create(design=design, existing=item, label=str(item)[:60])
