"""How a survey changes: permission, the change, the log, new sums for drafts that rest on it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Q, QuerySet

from common.told import in_english
from jobs.design.revision import design_resize
from jobs.models import Design, Job, LoadItem, Survey, Vehicle
from jobs.shop.actor import Actor
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require
from jobs.survey.changes import PartChanges, RowChanges
from jobs.survey.read import is_closed

#: Facts of the survey that the roof workspace lets the hand move, beside the things on the roof.
_ROOF_OF_A_DESIGN: Final = frozenset({"gland_x_m", "gland_y_m"})


class SurveyRefused(Refusal):
    """The survey may not be changed so; says why."""


@in_english
@transaction.atomic
def survey_save(
    *,
    survey: Survey,
    part_title: str,
    changes: PartChanges,
    actor: User,
    at: datetime,
    made_in: Design | None = None,
) -> list[str]:
    """Store what changed on one page; return what must be said about the designs that rest on it.

    ``made_in`` is the design in whose workspace the roof was changed: it is sized there.
    Only touched columns and rows are written, so that two people on two pages, or one page sent twice,
    undo nothing. Raise NotAllowed when this person may not, SurveyRefused when the job is closed.
    """
    job = Job.objects.select_for_update(of=("self",)).select_related("shop", "vehicle").get(pk=survey.job_id)
    locked = Survey.objects.select_for_update().get(pk=survey.pk)
    locked.job = job
    require(actor, job.shop, "may_design")
    if is_closed(locked):
        raise SurveyRefused(
            f"This job is “{job.get_state_display()}”: its survey stays as it was. A new visit is a new job."
        )
    touched = _write_survey(locked, changes)
    touched |= _write_vehicle(job.vehicle, changes.vehicle)
    counts = {prefix: _write_rows(locked, prefix, change) for prefix, change in changes.rows.items()}
    if not touched and not any(counts.values()):
        return []
    log(
        shop=job.shop,
        job=job,
        actor=actor,
        verb="survey changed",
        detail=_detail(part_title, changes.labels, counts),
        at=at,
    )
    others = Design.objects.filter(job=job, state=Design.State.DRAFT)
    if made_in is not None:
        others = others.exclude(pk=made_in.pk)
    if counts.get("obstacles") or changes.survey.keys() & _ROOF_OF_A_DESIGN:
        # Whoever has the roof of a draft open must see that it changed before storing over it.
        others.update(edit_count=F("edit_count") + 1)
    return _size_drafts(others, actor, at)


def _write_survey(survey: Survey, changes: PartChanges) -> bool:
    values = {name: value for name, value in changes.survey.items() if getattr(survey, name) != value}
    lists = {
        "guessed_fields": _marked(survey.guessed_fields, changes.guesses),
        "absent_kinds": _marked(survey.absent_kinds, changes.absent),
        "flags": _flagged(survey.flags, changes.flags),
    }
    values |= {name: value for name, value in lists.items() if getattr(survey, name) != value}
    return _write(survey, values)


def _write_vehicle(vehicle: Vehicle, values: Mapping[str, Any]) -> bool:
    locked = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
    return _write(locked, {name: value for name, value in values.items() if getattr(locked, name) != value})


def _write(record: Any, values: Mapping[str, Any]) -> bool:
    """Set and save these columns only; return whether there were any."""
    if not values:
        return False
    for name, value in values.items():
        setattr(record, name, value)
    try:
        record.full_clean(exclude=[f.name for f in record._meta.fields if f.name not in values])
    except ValidationError as problem:
        raise SurveyRefused(" ".join(problem.messages)) from problem
    record.save(update_fields=list(values))
    return True


def _marked(words: list[str], marks: Mapping[str, bool]) -> list[str]:
    """Return the words with those marked added and those unmarked taken out."""
    kept = [word for word in words if marks.get(word, True)]
    return kept + [word for word, is_on in marks.items() if is_on and word not in kept]


def _flagged(flags: Mapping[str, str], changed: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in {**flags, **changed}.items() if text}


def _write_rows(survey: Survey, prefix: str, change: RowChanges) -> int:
    """Write and remove rows by their key; return how many rows that touched."""
    rows = getattr(survey, prefix)
    stored = {row.key: row for row in rows.all()}
    written = 0
    for key, values in change.write:
        row = stored.get(key) or rows.model(survey=survey, key=key)
        if row.pk and all(getattr(row, name) == value for name, value in values.items()):
            continue
        for name, value in values.items():
            setattr(row, name, value)
        if isinstance(row, LoadItem) and not row.pk:
            row.position = max((other.position for other in stored.values()), default=-1) + 1
        row.save()
        stored[key] = row
        written += 1
    gone = [key for key in change.remove if key in stored]
    rows.filter(key__in=gone).delete()
    return written + len(gone)


def _detail(part_title: str, labels: tuple[str, ...], counts: Mapping[str, int]) -> str:
    rows = sum(counts.values())
    said = [*labels, *([f"{rows} row{'' if rows == 1 else 's'}"] if rows else [])]
    return f"{part_title}: {', '.join(said)}" if said else part_title


def _size_drafts(drafts: QuerySet[Design], actor: Actor, at: datetime) -> list[str]:
    """Ask for new sums of the drafts that were asked before; return what could not be."""
    notes = []
    asked = Q(runs__isnull=False) | ~Q(unsized_reason="")
    for design in drafts.filter(asked).distinct():
        design_resize(design, actor=actor, at=at)
        if design.unsized_reason:
            notes.append(f"{design}: {design.unsized_reason}")
    return notes
