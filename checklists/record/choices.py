"""Raises a deviation for a choice that contradicts the survey or the roof; resolves it when it is gone."""

from __future__ import annotations

from datetime import datetime

import sizing
from checklists.models import Deviation
from checklists.record.read import Work
from checklists.rules.choices import CHOICE_KEY, Contradiction, contradictions


def choices_refresh(*, work: Work, at: datetime) -> list[Deviation] | None:
    """Return what was raised; None when no choice changed. One that stands, accepted or not, stays."""
    found = {each.key: each for each in contradictions(work.install)}
    standing = {row.check_key: row for row in work.deviations if _is_standing(row)}
    if found.keys() == standing.keys():
        return None
    for key in standing.keys() - found.keys():
        deviation_resolve(standing[key], at)
    fresh = [_row(work, each, at) for key, each in found.items() if key not in standing]
    return Deviation.objects.bulk_create(fresh)


def _is_standing(row: Deviation) -> bool:
    return row.check_key.startswith(CHOICE_KEY) and row.state != Deviation.State.RESOLVED


def _row(work: Work, found: Contradiction, at: datetime) -> Deviation:
    return Deviation(
        checklist=work.checklist,
        step_id=found.step,
        check_key=found.key,
        title=found.title,
        planned_verdict=str(sizing.Verdict.PASS),
        as_built_verdict=str(sizing.Verdict.BLOCK),
        sentence=found.sentence,
        options=[{"words": words} for words in found.options],
        raised_at=at,
    )


def deviation_resolve(row: Deviation, at: datetime) -> None:
    """Say that a later value took the place of the one this was raised for."""
    row.state, row.decided_at = Deviation.State.RESOLVED, at
    row.decision = row.decision or "A later value took its place."
    row.save(update_fields=["state", "decided_at", "decision"])
