"""Issues a job sheet: frozen with its hash, sent to be printed once, never rewritten."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, JobSheet
from checklists.record.kept import kept_check
from checklists.record.progress import job_walk
from checklists.record.read import event_of
from checklists.sheet.draft import Draft, sheet_draft
from checklists.sheet.print import sheet_queue, sheet_reprint
from checklists.sheet.words import when
from common.pdf import require_pdf_library
from common.told import in_english
from jobs.models import Job
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_LENGTH: Final = 15


class IssueRefused(Refusal):
    """No sheet is issued; says why."""


@in_english
@transaction.atomic
def sheet_issue(*, checklist: Checklist, actor: User, at: datetime, reason: str = "") -> JobSheet:
    """Issue the sheet as it stands and return it; nothing new to say returns the stored one.

    Its paper follows in the background. A sheet that lacks anything prints "not released". After a released
    one, another content is a correction and needs a reason. Raise PdfLibraryMissing where no paper could be
    made.
    """
    require_pdf_library()
    locked = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "job__vehicle__customer", "design", "run")
        .get(pk=checklist.pk)
    )
    require(actor, locked.job.shop, "may_install")
    draft = sheet_draft(locked)
    kept_check(draft.work.seen, event_of)
    latest = locked.sheets.first()
    if latest is not None and _is_same(latest, draft):
        return sheet_reprint(sheet=latest, actor=actor, at=at)
    if locked.sheets.filter(is_released=True).exists() and len(reason.strip()) < REASON_LENGTH:
        raise IssueRefused(
            f"A released sheet is corrected by a new one: say why, in at least {REASON_LENGTH} characters."
        )
    if draft.is_released:
        _release_job(locked, actor, at)
    return _issued(locked, draft, latest, actor, at, reason.strip())


def _is_same(latest: JobSheet, draft: Draft) -> bool:
    """Return whether the stored sheet says what would be printed now, signatures included."""
    return (
        latest.content_sha256 == draft.content_sha256
        and latest.is_released == draft.is_released
        and latest.snapshot["signatures"] == _signatures(draft)
    )


def _release_job(checklist: Checklist, actor: Actor, at: datetime) -> None:
    if not checklist.job.is_in_install:
        return
    job = job_walk(job=checklist.job, to=Job.State.RELEASED, actor=actor, at=at)
    if job.state != Job.State.RELEASED:
        raise IssueRefused(
            f"The job is “{job.get_state_display()}” and cannot be released from there:"
            " the office moves it on first (deposit, parts)."
        )


def _issued(
    checklist: Checklist, draft: Draft, latest: JobSheet | None, actor: Actor, at: datetime, reason: str
) -> JobSheet:
    snapshot = {
        "content": draft.content,
        "signatures": _signatures(draft),
        "sheet": {
            "number": 1 if latest is None else latest.number + 1,
            "reason": reason,
            "issued_at": when(at, checklist.job.shop.time_zone),
            "issued_by": name_of(actor),
            "is_released": draft.is_released,
            "missing": draft.missing,
            "content_sha256": draft.content_sha256,
        },
    }
    snapshot = json.loads(json.dumps(snapshot))
    sheet = JobSheet.objects.create(
        checklist=checklist,
        number=snapshot["sheet"]["number"],
        snapshot=snapshot,
        content_sha256=draft.content_sha256,
        is_released=draft.is_released,
        reason=reason,
        issued_at=at,
        issued_by_name=name_of(actor),
        touched_at=at,
    )
    sheet_queue(sheet)
    log(
        shop=checklist.job.shop,
        job=checklist.job,
        actor=actor,
        verb="job sheet issued",
        detail=f"Sheet {sheet.number}, {'released' if sheet.is_released else 'not released'},"
        f" content {sheet.content_sha256[:12]}",
        reason=reason,
        at=at,
    )
    return sheet


def _signatures(draft: Draft) -> list[dict[str, Any]]:
    zone = draft.work.checklist.job.shop.time_zone
    return [
        {
            "part": row.part,
            "words": row.get_part_display(),
            "name": row.printed_name,
            "svg": row.signature_svg,
            "at": when(row.at, zone),
        }
        for row in draft.signatures
    ]
