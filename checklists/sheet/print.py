"""Prints the paper of an issued sheet: in the background, once, from what was frozen."""

from __future__ import annotations

import hashlib
import uuid
from datetime import datetime, timedelta
from functools import partial
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.tasks import task
from django.utils import timezone

from checklists.models import JobSheet
from checklists.photos.files import file_write
from checklists.sheet.printing import print_sheet
from common.background import Clock, Queue, Run
from common.pdf import PdfLibraryMissing
from common.told import in_english
from jobs.shop.rights import require

#: No sheet takes so long: after this a person may ask for it again.
STALE: Final = timedelta(minutes=5)

SHEETS: Final[Queue[JobSheet]] = Queue(
    rows=JobSheet.objects.select_related("checklist__job__shop"),
    waiting=JobSheet.State.WAITING,
    running=JobSheet.State.PRINTING,
    failed=JobSheet.State.FAILED,
)


def sheet_queue(sheet: JobSheet) -> None:
    """Have a sheet printed once the change that asks for it is safe."""
    transaction.on_commit(partial(_enqueue, sheet.pk))


def _enqueue(sheet_pk: int) -> None:
    sheet_task.enqueue(sheet_pk)


@task(queue_name="papers")
def sheet_task(sheet_pk: int) -> None:
    """Print one issued sheet in the background worker."""
    sheet_print(sheet_pk, clock=timezone.now)


def sheet_print(sheet_pk: int, *, clock: Clock) -> None:
    """Print a sheet that waits for its paper; one that does not is left alone."""
    SHEETS.work(
        sheet_pk,
        _print,
        clock=clock,
        explained=(PdfLibraryMissing,),
        words="The PDF of this sheet could not be made. Please tell whoever looks after the server: its"
        " log says where.",
    )


def _print(run: Run[JobSheet]) -> None:
    sheet = run.row
    data = print_sheet(sheet.checklist, sheet.snapshot)
    name = f"sheets/{sheet.issued_at:%Y/%m}/{uuid.uuid4()}.pdf"
    file_write(name, data)
    run.end(JobSheet.State.READY, file=name, file_sha256=hashlib.sha256(data).hexdigest())


@in_english
@transaction.atomic
def sheet_reprint(*, sheet: JobSheet, actor: User, at: datetime) -> JobSheet:
    """Have a sheet printed whose printing failed or hangs; one that has its paper keeps it."""
    locked: JobSheet = (
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
    """Take up what a worker left unprinted, or give it up; return how many were found."""
    return SHEETS.take_up(
        error="The server stopped twice while this sheet was printed. Please print it again.",
        at=at,
        enqueue=_enqueue,
    )
