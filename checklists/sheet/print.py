"""Knows how an issued sheet gets its paper: in the background, once, from what was frozen."""

from __future__ import annotations

import hashlib
import logging
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final

from django.db import transaction
from django.db.models import F
from django.tasks import task
from django.utils import timezone

from checklists.models import JobSheet
from checklists.photos.files import file_write
from checklists.sheet.printing import print_sheet
from common.pdf import PdfLibraryMissing
from common.stopped import take_up
from jobs.shop.rights import require

Clock = Callable[[], datetime]

#: No sheet takes so long: after this a person may ask for it again.
STALE: Final = timedelta(minutes=5)

logger = logging.getLogger(__name__)


def sheet_queue(sheet: JobSheet) -> None:
    """Have a sheet printed once the change that asks for it is safe."""
    transaction.on_commit(partial(_enqueue, sheet.pk))


def _enqueue(sheet_pk: int) -> None:
    sheet_task.enqueue(sheet_pk)


@task
def sheet_task(sheet_pk: int) -> None:
    """Print one issued sheet in the background worker."""
    sheet_print(sheet_pk, clock=timezone.now)


def sheet_print(sheet_pk: int, *, clock: Clock) -> None:
    """Print a sheet that waits for its paper; one that does not is left alone."""
    taken = JobSheet.objects.filter(pk=sheet_pk, state=JobSheet.State.WAITING).update(
        state=JobSheet.State.PRINTING, touched_at=clock(), attempts=F("attempts") + 1, error=""
    )
    if not taken:
        return
    sheet = JobSheet.objects.select_related("checklist__job__shop").get(pk=sheet_pk)
    try:
        data = print_sheet(sheet.checklist, sheet.snapshot)
    except PdfLibraryMissing as problem:
        _end(sheet, clock, state=JobSheet.State.FAILED, error=str(problem))
    except Exception:
        logger.exception("job sheet %s", sheet_pk)
        words = "The paper engine stopped on this sheet; the server's log says where."
        _end(sheet, clock, state=JobSheet.State.FAILED, error=words)
    else:
        name = f"sheets/{sheet.issued_at:%Y/%m}/{uuid.uuid4()}.pdf"
        file_write(name, data)
        digest = hashlib.sha256(data).hexdigest()
        _end(sheet, clock, state=JobSheet.State.READY, file=name, file_sha256=digest)


def _end(sheet: JobSheet, clock: Clock, **facts: Any) -> None:
    """Write down how a printing ended, unless another one took it over meanwhile."""
    mine = JobSheet.objects.filter(pk=sheet.pk, state=JobSheet.State.PRINTING, attempts=sheet.attempts)
    mine.update(touched_at=clock(), **facts)


@transaction.atomic
def sheet_reprint(*, sheet: JobSheet, actor: Any, at: datetime) -> JobSheet:
    """Have a sheet printed whose printing failed or hangs; one that has its paper keeps it."""
    locked = (
        JobSheet.objects.select_for_update(of=("self",))
        .select_related("checklist__job__shop")
        .get(pk=sheet.pk)
    )
    require(actor, locked.checklist.job.shop, "may_install")
    is_stuck = locked.is_on_its_way and at - locked.touched_at > STALE
    if locked.state == JobSheet.State.FAILED or is_stuck:
        locked.state, locked.touched_at, locked.error = JobSheet.State.WAITING, at, ""
        locked.save(update_fields=["state", "touched_at", "error"])
        sheet_queue(locked)
    return locked


def sheets_reap(*, at: datetime) -> int:
    """Take up what an earlier worker left unprinted, or give it up; return how many were found."""
    return take_up(
        JobSheet.objects.all(),
        running=JobSheet.State.PRINTING,
        waiting=JobSheet.State.WAITING,
        failed=JobSheet.State.FAILED,
        error="The server stopped twice while this sheet was printed. Print it again.",
        at=at,
        enqueue=_enqueue,
    )
