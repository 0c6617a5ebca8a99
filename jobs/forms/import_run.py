"""Takes a long table in, in the background: looks at it, and after a yes stores all of it or nothing."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.tasks import task
from django.utils import timezone

from common.background import Clock, Queue, Run
from common.sheet_files import TableUnreadable, read_table
from common.told import in_english
from jobs.forms.import_kinds import KINDS, Taken
from jobs.forms.import_rows import Found, ImportRefused
from jobs.models import Shop, TableRun
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: The longest table, and the largest file it may come in.
MOST_ROWS: Final = 10_000
MOST_BYTES: Final = 8 * 1024 * 1024
#: So many faults and questions are listed; the rest is counted.
MOST_LISTED: Final = 100
TELL_EVERY: Final = timedelta(seconds=0.5)
#: Reading is so much of the way when the table is stored afterwards.
_READ_SHARE: Final = 0.8

RUNS: Final[Queue[TableRun]] = Queue(
    rows=TableRun.objects.all(),
    waiting=TableRun.State.QUEUED,
    running=TableRun.State.RUNNING,
    failed=TableRun.State.FAILED,
    fresh={"progress_fraction": 0.0, "doing": ""},
)


@in_english
@transaction.atomic
def table_run_ask(*, shop: Shop, kind: str, name: str, data: bytes, actor: User, at: datetime) -> TableRun:
    """Have a file looked at; an older one of its kind that nobody said yes to is forgotten."""
    require(actor, shop, "may_design")
    if len(data) > MOST_BYTES:
        raise ImportRefused(f"The file may have at most {MOST_BYTES // 2**20} MB.")
    TableRun.objects.of_shop(shop).filter(kind=kind).delete()
    run = TableRun.objects.create(
        shop=shop, kind=kind, name=name[-120:], data=data, at=at, touched_at=at, by=actor
    )
    transaction.on_commit(partial(_enqueue, run.pk))
    return run


@in_english
@transaction.atomic
def table_run_store(*, run: TableRun, sure: bool, actor: User, at: datetime) -> None:
    """Have a file that was looked at taken in; a second yes changes nothing."""
    require(actor, run.shop, "may_design")
    if run.report.get("faults") or (run.report.get("questions") and not sure):
        raise ImportRefused("Nothing is stored before every row is right.")
    looked_at = TableRun.objects.filter(pk=run.pk, state=TableRun.State.READY)
    facts: dict[str, Any] = {"progress_fraction": 0.0, "doing": "", "attempts": 0}
    phase = {"state": TableRun.State.QUEUED, "phase": TableRun.Phase.STORE}
    if looked_at.update(touched_at=at, by=actor, **phase, **facts):
        transaction.on_commit(partial(_enqueue, run.pk))


def _enqueue(run_pk: int) -> None:
    table_task.enqueue(run_pk)


@task(priority=20)
def table_task(run_pk: int) -> None:
    """Look at one table, or store it, in the background worker."""
    table_work(run_pk, clock=timezone.now)


def table_work(run_pk: int, *, clock: Clock) -> None:
    """Do the next thing with a waiting table; one that waits no more is left alone."""
    RUNS.work(
        run_pk,
        partial(_work, clock=clock),
        clock=clock,
        explained=(Refusal, TableUnreadable),
        words="The table was not taken in. Please tell whoever looks after the server: its log says why.",
    )


def _work(run: Run[TableRun], *, clock: Clock) -> None:
    asked = TableRun.objects.select_related("shop", "by").get(pk=run.row.pk)
    is_stored = asked.phase == TableRun.Phase.STORE
    share = _READ_SHARE if is_stored else 1.0
    kind, now = KINDS[asked.kind], clock()
    rows = read_table(asked.name, bytes(asked.data), most_rows=MOST_ROWS, most_bytes=MOST_BYTES)

    def tell(done: int, of: int) -> None:
        run.tell_or_give_up(share * done / of, f"{done:,} of {of:,} rows read", every=TELL_EVERY)

    found = kind.read(asked.shop, rows, now, tell)
    if not is_stored or found.faults:
        run.end(TableRun.State.READY, report=_report(found), progress_fraction=1.0)
        return
    run.tell_or_give_up(share, f"Writing {len(rows) - 1:,} rows", every=timedelta(0))
    _store(kind, Taken(asked.shop, asked.by, now, asked.name), found)
    run.end(TableRun.State.DONE, report=_report(found), progress_fraction=1.0, data=b"")


def _store(kind: Any, taken: Taken, found: Found) -> None:
    try:
        kind.store(taken, found)
    except (ValidationError, IntegrityError):
        raise ImportRefused(
            "Somebody changed these records meanwhile: please look at the file again."
        ) from None


def _report(found: Found) -> dict[str, Any]:
    """Return what a table would do or did, as it is shown."""
    faults = [[one.line, one.heading, one.reason] for one in found.faults[:MOST_LISTED]]
    questions = [[one.line, one.reason] for one in found.questions[:MOST_LISTED]]
    return {
        "new": found.new, "changed": found.changed, "same": found.same, "passed": found.passed,
        "faults": faults, "more": max(0, len(found.faults) - MOST_LISTED),
        "questions": questions, "more_questions": max(0, len(found.questions) - MOST_LISTED),
        "has_news": found.has_news,
    }  # fmt: skip


def table_runs_reap(*, at: datetime) -> int:
    """Take up what a worker left; return how many were found."""
    return RUNS.take_up(
        error="The server stopped twice during this. Please choose the file again.", at=at, enqueue=_enqueue
    )
