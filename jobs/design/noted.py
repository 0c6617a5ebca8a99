"""Takes note of verdicts, with name and reason; a note holds until the numbers it was made for change."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

import sizing
from common.told import in_english
from jobs.engine.stored import latest_run, result_of
from jobs.models import Design, NotedCheck, SizingRun
from jobs.shop.actor import name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_MOST: Final = 500
#: Numbers that agree to this many significant digits are the same: what a page shows, and one more. [-]
DIGITS: Final = 4


class NoteRefused(Refusal):
    """A verdict cannot be taken note of so; says why."""


def same_numbers(note: NotedCheck, check: sizing.Check) -> bool:
    """Return whether a check still says what it said when it was noted."""
    return (
        note.verdict == str(check.verdict)
        and note.unit == check.unit
        and _same(note.value, check.value)
        and _same(note.limit, check.limit)
    )


def leaves_the_list(check: sizing.Check) -> bool:
    """Return whether a noted check leaves the list: never a block, nor missing data that can hurt people."""
    if check.verdict is sizing.Verdict.NOT_ENOUGH_DATA:
        return sizing.concern_of(check).danger is not sizing.Danger.PEOPLE
    return check.verdict is sizing.Verdict.CAUTION


@in_english
@transaction.atomic
def checks_note(
    *,
    design: Design,
    keys: Iterable[str],
    reason: str,
    actor: User,
    at: datetime,
    seen_run: int | None = None,
) -> list[NotedCheck]:
    """Take note of checks of the newest answer; the same note twice is made once.

    Raise NotAllowed for a person who may not, NoteRefused without a reason, for a check that passes or is
    not there, and where the numbers are no longer those of the answer the person saw (``seen_run``).
    """
    locked = Design.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=design.pk)
    require(actor, locked.job.shop, "may_design")
    reason = reason.strip()
    if not reason:
        raise NoteRefused("Please give a reason: without one the note tells the next person nothing.")
    if len(reason) > REASON_MOST:
        raise NoteRefused(
            f"The reason may have at most {REASON_MOST} characters, this one has {len(reason)}."
        )
    checks = _wanted(locked, list(dict.fromkeys(keys)), seen_run)
    made = [_noted(locked, check, reason, actor, at) for check in checks]
    new = [note for note in made if note is not None]
    if new:
        titles = "; ".join(note.title for note in new)
        log(
            shop=locked.job.shop,
            job=locked.job,
            actor=actor,
            verb="check noted",
            detail=f"{locked}. {titles}",
            reason=reason,
            at=at,
        )
    return new


@in_english
@transaction.atomic
def note_undo(*, note: NotedCheck, actor: User, at: datetime) -> bool:
    """Take a note back, so that its check is in the list again; False when somebody already did."""
    design = Design.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=note.design_id)
    require(actor, design.job.shop, "may_design")
    gone, _ = NotedCheck.objects.filter(pk=note.pk).delete()
    if gone:
        log(
            shop=design.job.shop,
            job=design.job,
            actor=actor,
            verb="note taken back",
            detail=f"{design}. {note.title}, noted by {note.by_name}",
            reason=note.reason,
            at=at,
        )
    return bool(gone)


def notes_follow(source: Design, target: Design) -> None:
    """Take the notes of a copied revision along where the copy's check says the same."""
    run = latest_run(target)
    if run is None:
        return
    checks = {check.key: check for check in result_of(run).checks}
    pairs = zip(source.sources.order_by("pk"), target.sources.order_by("pk"), strict=False)
    renamed = {f"source:{old.pk}": f"source:{new.pk}" for old, new in pairs}
    for note in source.noted_checks.all():
        subject, _, rest = note.check_key.partition("/")
        check = checks.get(f"{renamed.get(subject, subject)}/{rest}")
        if check is not None and same_numbers(note, check):
            note.pk, note._state.adding = None, True
            note.design, note.check_key = target, check.key
            note.save()


def _wanted(design: Design, keys: list[str], seen_run: int | None) -> list[sizing.Check]:
    run = latest_run(design)
    checks = {} if run is None else {check.key: check for check in result_of(run).checks}
    found = [checks[key] for key in keys if key in checks]
    if not keys or len(found) < len(keys) or any(one.verdict is sizing.Verdict.PASS for one in found):
        raise NoteRefused("This check has changed since you opened the page: look at the list again.")
    if run is not None and seen_run is not None and seen_run != run.pk:
        _must_be_as_seen(design, found, run_pk=seen_run)
    return found


def _must_be_as_seen(design: Design, found: list[sizing.Check], run_pk: int) -> None:
    older = SizingRun.objects.filter(design=design, pk=run_pk).first()
    seen = {} if older is None else {check.key: check for check in result_of(older).checks}
    for check in found:
        was = seen.get(check.key)
        if was is None or not same_numbers(_note_of(design, was), check):
            raise NoteRefused(
                "The design was sized again while you were looking and its numbers changed: look at the"
                " list again."
            )


def _note_of(design: Design, check: sizing.Check) -> NotedCheck:
    return NotedCheck(
        design=design,
        check_key=check.key,
        title=check.title[:200],
        verdict=str(check.verdict),
        value=check.value,
        limit=check.limit,
        unit=check.unit,
    )


def _noted(design: Design, check: sizing.Check, reason: str, actor: User, at: datetime) -> NotedCheck | None:
    """Return the note as stored; None where this person already made just this note."""
    name = name_of(actor)
    older = NotedCheck.objects.filter(design=design, check_key=check.key).first()
    if older is not None:
        if same_numbers(older, check) and (older.reason, older.by_name) == (reason, name):
            return None
        older.delete()
    note = _note_of(design, check)
    note.reason, note.by, note.by_name, note.at = reason, actor, name, at
    note.save()
    return note


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return f"{one:.{DIGITS}g}" == f"{other:.{DIGITS}g}" or math.isclose(one, other, rel_tol=1e-9)
