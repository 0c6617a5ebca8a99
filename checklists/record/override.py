"""Lets a hold pass for the owner: by name, with a reason, and only for what was open at that moment."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, HoldOverride, Step
from checklists.record.read import work_of
from checklists.record.wording import item_text
from common.told import in_english
from jobs.shop.actor import name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_LENGTH: Final = 15


class OverrideRefused(Refusal):
    """The hold stays shut; says why."""


@in_english
@transaction.atomic
def hold_override(*, step: Step, reason: str, actor: User, at: datetime) -> HoldOverride:
    """Let a hold pass as it stands now; whatever opens later shuts it again."""
    checklist = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "design", "run")
        .get(pk=step.checklist_id)
    )
    require(actor, checklist.job.shop, "is_owner")
    if len(reason.strip()) < REASON_LENGTH:
        raise OverrideRefused(f"Please give a reason of at least {REASON_LENGTH} characters.")
    work = work_of(checklist)
    found = next((hold for hold in work.holds.all() if hold.step.pk == step.pk), None)
    if found is None:
        raise OverrideRefused("This step is not a hold of this job.")
    if not found.items:
        raise OverrideRefused("Nothing keeps this hold from passing: there is nothing to override.")
    if found.never:
        units = checklist.job.shop.units
        what = "; ".join(f"{item.step.code} {item_text(item, units)}" for item in found.never)
        raise OverrideRefused(f"Nobody can override this: {what}.")
    row = HoldOverride.objects.create(
        step=step,
        by=actor,
        by_name=name_of(actor),
        reason=reason.strip(),
        covers=[item.key for item in found.items],
        at=at,
    )
    log(
        shop=checklist.job.shop,
        job=checklist.job,
        actor=actor,
        verb="hold overridden",
        detail=f"{step.code} {step.title}",
        reason=row.reason,
        at=at,
    )
    return row
