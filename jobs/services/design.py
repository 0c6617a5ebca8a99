"""Knows how a design revision begins, is sized and is frozen. Its parts are changed in ``design_parts``."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

import sizing
from jobs import sizing_bridge
from jobs.models import Design, Job, SizingRun
from jobs.selectors.design import design_in_full, latest_run
from jobs.services.log import log, name_of
from jobs.services.refusals import Refusal


class DesignRefused(Refusal):
    """A design may not be changed or sized so; says why."""


def require_designer(actor: Any, shop: Any) -> None:
    """Raise DesignRefused unless the person may design for this shop; text stands for the system itself."""
    if isinstance(actor, str) or actor is None:
        return
    membership = getattr(actor, "membership", None)
    if membership is None or membership.shop_id != shop.pk or not membership.may_design:
        raise DesignRefused("Only the owner or an estimator may change a design.")


def design_locked(design: Design, actor: Any) -> Design:
    """Return the design locked for a change; raise DesignRefused when it is frozen or not this person's to change."""
    locked = Design.objects.select_for_update().select_related("job__shop").get(pk=design.pk)
    require_designer(actor, locked.job.shop)
    if locked.is_frozen:
        raise DesignRefused(
            f"Revision {locked.number} is frozen: it was accepted or replaced. Make a new revision to change it."
        )
    return locked


@transaction.atomic
def design_size(
    *,
    design: Design,
    actor: Any,
    at: datetime,
    purpose: str = SizingRun.Purpose.PLANNED,
    as_built: Mapping[str, Any] | None = None,
) -> SizingRun:
    """Ask the sizing face once and store question and answer.

    Raise DesignRefused when the design cannot be put as a question (a part without a data sheet, a value
    out of range) and when a frozen design that was already sized would be sized again as planned.
    """
    full = design_in_full(design.pk)
    if full.is_frozen and purpose == SizingRun.Purpose.PLANNED and latest_run(full) is not None:
        raise DesignRefused(f"Revision {full.number} is frozen: its sums stand as they were accepted.")
    try:
        system = sizing_bridge.system_input(full, as_built)
        result = sizing.size_system(system)
    except sizing.InputOutOfRange as problem:
        raise DesignRefused(f"This design cannot be sized yet. {problem}") from problem
    return SizingRun.objects.create(
        design=design,
        purpose=purpose,
        inputs=sizing_bridge.input_to_json(system),
        result=sizing_bridge.result_to_json(result),
        verdict=str(result.verdict),
        engine_version=result.engine_version,
        at=at,
        by_name=name_of(actor),
    )


@transaction.atomic
def design_freeze(*, design: Design, actor: Any, at: datetime) -> Design:
    """Freeze a design as accepted: it is sized a last time if it never was, then never changed."""
    locked = Design.objects.select_for_update().select_related("job__shop").get(pk=design.pk)
    if locked.is_frozen:
        return locked
    if latest_run(locked) is None:
        design_size(design=locked, actor=actor, at=at)
    locked.state = Design.State.FROZEN
    locked.save(update_fields=["state"])
    log(shop=locked.job.shop, job=locked.job, actor=actor, verb="design frozen", detail=str(locked), at=at)
    return locked


def _next_number(job: Job) -> int:
    return (job.designs.aggregate(last=Max("number"))["last"] or 0) + 1
