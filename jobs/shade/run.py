"""How a year of shade is asked for, worked out in the background, and taken up again after a stop."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction
from django.tasks import task
from django.utils import timezone

import sizing
from common.background import Clock, Queue, Run
from common.told import in_english
from jobs.engine import years
from jobs.engine.scene import ShadeNotAsked, shade_question
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.models import Design, ShadeRun
from jobs.shop.actor import Actor, name_of
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: Answers of one kind kept for a design; older ones are dropped.
KEPT: Final = 3
#: Progress is written down no oftener than this.
TELL_EVERY: Final = timedelta(seconds=0.5)

RUNS: Final[Queue[ShadeRun]] = Queue(
    rows=ShadeRun.objects.all(),
    waiting=ShadeRun.State.QUEUED,
    running=ShadeRun.State.RUNNING,
    failed=ShadeRun.State.FAILED,
    fresh={"progress_fraction": 0.0, "doing": ""},
    ended={"progress_fraction": 1.0, "doing": ""},
)


@in_english
def shade_ask(
    *, design: Design, actor: User, at: datetime, kind: str = ShadeRun.Kind.YEAR, stop_key: Any = None
) -> ShadeRun:
    """Ask for a year of shade, or its check, on request of a person who may design.

    Raise NotAllowed for others, ShadeNotAsked when the records do not say enough.
    """
    require(actor, design.job.shop, "may_design")
    state = design_state(design_in_full(design.pk))
    question = shade_question(state.roof, state.sun, stop_key)
    if kind == ShadeRun.Kind.CHECK and not question["scene"]["wirings"]:
        raise ShadeNotAsked("No panel is wired to a controller yet: there is nothing to check.")
    return _queue(design, actor, at, kind, stop_key)


def shade_follow(design: Design, *, actor: Actor, at: datetime) -> None:
    """Ask anew after a design was sized; the place stays as last chosen. Says nothing where it cannot be."""
    last = design.shade_runs.filter(kind=ShadeRun.Kind.YEAR).only("stop_key").first()
    _queue(design, actor, at, ShadeRun.Kind.YEAR, last.stop_key if last else None)


def _queue(design: Design, actor: Actor, at: datetime, kind: str, stop_key: Any) -> ShadeRun:
    """Return the one waiting run of a kind; it reads the design only when its turn comes."""
    waiting = design.shade_runs.filter(kind=kind, state=ShadeRun.State.QUEUED).first()
    run = waiting or ShadeRun(design=design, kind=kind)
    run.stop_key, run.at, run.touched_at, run.by_name = stop_key, at, at, name_of(actor)
    run.save()
    transaction.on_commit(partial(_enqueue, run.pk))
    return run


def _enqueue(run_pk: int) -> None:
    shade_task.enqueue(run_pk)


@task(queue_name="shade")
def shade_task(run_pk: int) -> None:
    """Work out one shade run in the background worker."""
    shade_work(run_pk, clock=timezone.now)


def shade_work(run_pk: int, *, clock: Clock) -> None:
    """Work out a waiting run; a run that is not waiting any more is left alone."""
    RUNS.work(
        run_pk,
        _work,
        clock=clock,
        explained=(Refusal, sizing.InputOutOfRange),
        words="Working out the shade failed on this roof. Please tell whoever looks after the server: its"
        " log says where.",
    )


def _work(run: Run[ShadeRun]) -> None:
    asked, tell = run.row, partial(run.tell_or_give_up, every=TELL_EVERY)
    inputs = years.year_inputs(design_state(design_in_full(asked.design_id)), asked.stop_key)
    if asked.kind == ShadeRun.Kind.CHECK:
        result = years.check_answer(inputs, tell)
    else:
        known = _known(asked, inputs)
        result = known.result if known else years.year_answer(inputs, tell)
    version = years.engine_version()
    run.end(ShadeRun.State.DONE, inputs=inputs, result=result, engine_version=version)
    _drop_older(asked)


def _known(run: ShadeRun, inputs: dict[str, Any]) -> ShadeRun | None:
    """Return the last answer where it was asked the very same of the same engine."""
    last = done_run(run.design, run.kind)
    is_same = last is not None and last.inputs == inputs
    return last if is_same and last and last.engine_version == years.engine_version() else None


def done_run(design: Design, kind: str = ShadeRun.Kind.YEAR) -> ShadeRun | None:
    """Return the newest answer of a kind."""
    return design.shade_runs.filter(kind=kind, state=ShadeRun.State.DONE).first()


def _drop_older(run: ShadeRun) -> None:
    """Drop answers that newer ones replaced, and what failed or was never finished before this one."""
    older = run.design.shade_runs.filter(kind=run.kind, pk__lt=run.pk)
    older.filter(state__in=[ShadeRun.State.FAILED, ShadeRun.State.RUNNING]).delete()
    kept = older.filter(state=ShadeRun.State.DONE).values_list("pk", flat=True)[: KEPT - 1]
    older.filter(state=ShadeRun.State.DONE).exclude(pk__in=list(kept)).delete()


def shade_reap(*, at: datetime) -> int:
    """Take up what a worker left: runs cut off wait again, or fail; return how many were found."""
    return RUNS.take_up(
        error="The server stopped twice while this was worked out. Please start it again.",
        at=at,
        enqueue=_enqueue,
    )
