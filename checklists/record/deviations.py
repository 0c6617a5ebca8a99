"""Sizes the system again when a value as built changes, and raises a deviation for what got worse."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction

import sizing
from checklists.models import Checklist, Deviation
from checklists.record.choices import choices_refresh, deviation_resolve
from checklists.record.read import Work
from checklists.record.remedies import remedies_of
from checklists.record.roof import drawn
from checklists.rules.as_built import as_built_values, steps_feeding
from checklists.rules.choices import CHOICE_KEY
from checklists.rules.install import Install, StepInfo
from common.told import in_english
from jobs.design.revision import design_size_built
from jobs.engine.stored import result_of
from jobs.models import SizingRun
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_LENGTH: Final = 15
#: A device larger than the cable carries, or none at all, is never let stand.
NEVER_ACCEPTED: Final = ("/ocpd_cable", "/protection")
#: Subjects of checks → beginnings of the as-built names that change them.
CHANGED_BY: Final = {
    "circuit": "circuit:{name}.",
    "string": "string:{name}.",
    "controller": "strings.",
    "roof": "roof.",
    "panel": "roof.",
    "bank": "bank.",
    "vehicle": "weight.",
}


class DeviationRefused(Refusal):
    """The deviation stays as it is; says why."""


def deviations_refresh(
    *, work: Work, touched: set[int], actor: Actor, at: datetime
) -> list[Deviation] | None:
    """Size again when a value as built changed; return what was raised, None when nothing changed.

    Values that cannot be worked out together (three in series of four panels) are kept, and the reason is
    shown and keeps the go shut until they can.
    """
    choices = choices_refresh(work=work, at=at)
    sized = _sized_anew(work, touched, actor, at)
    return None if choices is None and sized is None else [*(choices or []), *(sized or [])]


def _sized_anew(work: Work, touched: set[int], actor: Actor, at: datetime) -> list[Deviation] | None:
    checklist, values = work.checklist, as_built_values(work.install)
    if values == checklist.as_built:
        return None
    checklist.as_built, checklist.as_built_problem = values, ""
    run = None
    try:
        run = design_size_built(accepted=checklist.run, as_built=values, actor=actor, at=at)
    except Refusal as problem:
        checklist.as_built_problem = str(problem)
    _draw(checklist)
    checklist.save(update_fields=["as_built", "as_built_problem", "plan_svg", "plan_units"])
    return [] if run is None else _raised(work, run, touched, at)


def _draw(checklist: Checklist) -> None:
    """Draw the roof as built; as planned where the values cannot be worked out together."""
    checklist.plan_units = checklist.job.shop.units
    checklist.plan_svg = drawn(checklist, checklist.plan_units)


def _raised(work: Work, run: SizingRun, touched: set[int], at: datetime) -> list[Deviation]:
    """Set the new run against the accepted one: raise what is new, resolve what is gone."""
    before, after = result_of(work.checklist.run), result_of(run)
    found = {
        each.key: each
        for each in sizing.compare_checks(before.checks, after.checks)
        if each.kind is not sizing.DeviationKind.CLEARED
    }
    rows = work.checklist.deviations.exclude(state=Deviation.State.RESOLVED)
    standing = {row.check_key: row for row in rows if not row.check_key.startswith(CHOICE_KEY)}
    for key, row in standing.items():
        if key not in found or not _is_same(row, found[key]):
            deviation_resolve(row, at)
    fresh = [each for key, each in found.items() if key not in standing or not _is_same(standing[key], each)]
    options = remedies_of(run, fresh)
    return Deviation.objects.bulk_create(
        _row(work, each, touched, options.get(each.key, []), at) for each in fresh
    )


def _is_same(row: Deviation, found: sizing.Deviation) -> bool:
    return (
        row.as_built_verdict == str(found.after.verdict)
        and row.as_built_value == found.after.value
        and row.limit == found.after.limit
    )


def _row(
    work: Work,
    found: sizing.Deviation,
    touched: set[int],
    options: list[dict[str, Any]],
    at: datetime,
) -> Deviation:
    step = _step_for(work.install, found.after.subject, touched)
    return Deviation(
        checklist=work.checklist,
        step_id=None if step is None else step.pk,
        check_key=found.key[:80],
        title=found.title[:200],
        planned_value=None if found.before is None else found.before.value,
        as_built_value=found.after.value,
        limit=found.after.limit,
        unit=found.after.unit,
        planned_verdict=str(sizing.Verdict.NOT_ENOUGH_DATA if found.before is None else found.before.verdict),
        as_built_verdict=str(found.after.verdict),
        sentence=found.sentence,
        options=options,
        can_be_accepted=not found.key.endswith(NEVER_ACCEPTED),
        raised_at=at,
    )


def _step_for(install: Install, subject: str, touched: Iterable[int]) -> StepInfo | None:
    """Return the step whose value did it: one just recorded if it feeds this check, else the last."""
    kind, _, name = subject.partition(":")
    prefix = CHANGED_BY.get(kind, "").format(name=name)
    feeding = steps_feeding(install, prefix)
    just_now = [step for step in feeding if step.pk in set(touched)]
    if just_now or feeding:
        return (just_now or list(feeding))[-1]
    anything = [step for step in steps_feeding(install, "") if step.pk in set(touched)]
    return anything[-1] if anything else None


@in_english
@transaction.atomic
def deviation_accept(*, deviation: Deviation, reason: str, actor: User, at: datetime) -> Deviation:
    """Let a deviation stand, by the owner, with a reason that prints on the sheet."""
    row = _open_deviation(deviation)
    require(actor, row.checklist.job.shop, "is_owner")
    if not row.can_be_accepted:
        raise DeviationRefused(
            "This one cannot be accepted: the wire would burn before its fuse opens."
            " Change the fuse or the wire."
        )
    if len(reason.strip()) < REASON_LENGTH:
        raise DeviationRefused(f"Please give a reason of at least {REASON_LENGTH} characters.")
    row.state, row.decision = Deviation.State.ACCEPTED, reason.strip()
    row.decided_by_name, row.decided_at = name_of(actor), at
    row.save(update_fields=["state", "decision", "decided_by_name", "decided_at"])
    _log(row.checklist, "deviation accepted", row, actor, at)
    return row


def _open_deviation(deviation: Deviation) -> Deviation:
    row = (
        Deviation.objects.select_for_update(of=("self",))
        .select_related("checklist__job__shop")
        .get(pk=deviation.pk)
    )
    if row.state != Deviation.State.OPEN:
        raise DeviationRefused(f"This deviation is already “{row.get_state_display()}”.")
    return row


def _log(checklist: Checklist, verb: str, row: Deviation, actor: Actor, at: datetime) -> None:
    log(
        shop=checklist.job.shop,
        job=checklist.job,
        actor=actor,
        verb=verb,
        detail=row.title,
        reason=row.decision,
        at=at,
    )
