"""Sizes a draft anew that an older engine answered, and says what came out otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

import sizing
from common.told import in_english
from jobs.design.revision import DesignRefused, design_resize
from jobs.engine.stored import latest_run
from jobs.models import Design, SizingRun
from jobs.shop.log import log
from jobs.shop.rights import require


@dataclass(frozen=True, slots=True)
class CheckChange:
    """One check before and after; None where one of the engines does not ask it."""

    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None

    @property
    def newest(self) -> Mapping[str, Any]:
        """Return the check as it is said now, or was said last."""
        return self.after or self.before or {}

    @property
    def turned(self) -> bool:
        """Return whether its verdict is another one."""
        return (self.before or {}).get("verdict") != (self.after or {}).get("verdict")


def is_of_older_engine(run: SizingRun | None) -> bool:
    """Return whether another engine than today's gave a stored answer."""
    return run is not None and run.engine_version != sizing.ENGINE_VERSION


@in_english
@transaction.atomic
def design_renew(*, design: Design, actor: User, at: datetime) -> list[CheckChange]:
    """Size a draft by today's engine and return what changed; the older answer stays stored.

    Raise NotAllowed for a person who may not design, DesignRefused for a frozen revision, for one that
    today's engine answered already (a second click) and where today's engine cannot answer: then nothing
    is changed.
    """
    require(actor, design.job.shop, "may_design")
    locked = Design.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=design.pk)
    if locked.is_frozen:
        raise DesignRefused(f"Revision {locked.number} is frozen: its numbers stay as they were accepted.")
    before = latest_run(locked)
    if before is None or not is_of_older_engine(before):
        raise DesignRefused("The engine of today has sized this revision already.")
    run = design_resize(locked, actor=actor, at=at)
    if run is None:
        raise DesignRefused(f"The engine of today cannot size it: {locked.unsized_reason}")
    changes = changes_between(before, run)
    log(
        shop=locked.job.shop,
        job=locked.job,
        actor=actor,
        verb="sized by a newer engine",
        detail=f"{locked}. Engine {before.engine_version} to {run.engine_version}, {len(changes)} changes",
        at=at,
    )
    return changes


def changes_between(before: SizingRun, after: SizingRun) -> list[CheckChange]:
    """Return the checks that came out otherwise, turned verdicts first."""
    old, new = _checks(before), _checks(after)
    keys = [*new, *(key for key in old if key not in new)]
    found = [CheckChange(old.get(key), new.get(key)) for key in keys]
    return sorted((one for one in found if _differs(one)), key=lambda one: not one.turned)


def last_renewal(design: Design) -> tuple[SizingRun, SizingRun] | None:
    """Return the newest answer and the last one by another engine before it; None where there is none."""
    after = latest_run(design)
    if after is None:
        return None
    runs = design.runs.filter(purpose=SizingRun.Purpose.PLANNED, pk__lt=after.pk)
    before = runs.exclude(engine_version=after.engine_version).first()
    return None if before is None else (before, after)


def _checks(run: SizingRun) -> dict[str, Mapping[str, Any]]:
    return {str(check["key"]): check for check in run.result.get("checks", ())}


def _differs(change: CheckChange) -> bool:
    """Return whether verdict, value or limit moved by more than the last digits of a float."""
    if change.before is None or change.after is None or change.turned:
        return True
    return any(not _is_same(change.before.get(name), change.after.get(name)) for name in ("value", "limit"))


def _is_same(one: Any, other: Any) -> bool:
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= 1e-9 * max(abs(one), abs(other), 1.0)
    return bool(one == other)
