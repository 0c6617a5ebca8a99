"""Asks for automatic layouts, searches them in the background, stops the search and takes one of them."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
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
from jobs.autolayout.answer import layout_candidates
from jobs.autolayout.question import LayoutOptions, LayoutSearchRefused, layout_search_rules
from jobs.design.revision import Change
from jobs.engine.scene import bare_question
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.engine.years import engine_version
from jobs.models import Design, LayRun, SizingRun
from jobs.parts.panel_model import PanelModel, panel_model
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require
from jobs.workspace.drag_cache import read_design
from jobs.workspace.edit import layout_save, read_layout
from jobs.workspace.state import panel_parts

OPEN: Final = (LayRun.State.QUEUED, LayRun.State.RUNNING)
#: Progress is written down no oftener than this.
TELL_EVERY: Final = timedelta(seconds=0.4)

RUNS: Final[Queue[LayRun]] = Queue(
    rows=LayRun.objects.all(),
    waiting=LayRun.State.QUEUED,
    running=LayRun.State.RUNNING,
    failed=LayRun.State.FAILED,
    attempts="",  # a newer search deletes the older one: nobody takes one over
)


@in_english
def layout_search_ask(*, design: Design, options: LayoutOptions, actor: User, at: datetime) -> LayRun:
    """Ask for layouts of a draft's roof; an older search of the same roof is ended and forgotten.

    Raise NotAllowed for a person who may not design, LayoutSearchRefused for a frozen revision or options
    that cannot be kept, ShadeNotAsked where the survey does not say enough.
    """
    require(actor, design.job.shop, "may_design")
    full = design_in_full(design.pk)
    if full.is_frozen:
        raise LayoutSearchRefused(f"Revision {full.number} is frozen and stays as it is.")
    models, state = _models(full, options), design_state(full)
    bare_question(state.roof, state.sun, models)
    layout_search_rules(state, models, options, 0.1)
    with transaction.atomic():
        design.lay_runs.all().delete()
        run = LayRun.objects.create(
            design=design, options=options.to_json(), at=at, touched_at=at, by_name=name_of(actor)
        )
        transaction.on_commit(partial(_enqueue, run.pk))
    return run


def _models(design: Design, options: LayoutOptions) -> list[PanelModel]:
    """Return the models that may be used; raise LayoutSearchRefused for one of no shop or without a sheet."""
    known = panel_parts(design.job.shop, (panel.part for panel in design.panels.all()))
    if not options.parts:
        raise LayoutSearchRefused("Panels: choose at least one model to lay.")
    if any(key not in known for key in options.parts):
        raise LayoutSearchRefused("Panels: a model is no longer in the catalog, or has no data sheet.")
    return [panel_model(known[key]) for key in options.parts]


def _enqueue(run_pk: int) -> None:
    layout_search_task.enqueue(run_pk)


@task(queue_name="shade", priority=50)
def layout_search_task(run_pk: int) -> None:
    """Search layouts for one roof; before other work, because somebody waits for the first look."""
    layout_search_work(run_pk, clock=timezone.now)


def layout_search_work(run_pk: int, *, clock: Clock) -> None:
    """Search for a waiting run, writing down every better answer; one that waits no more is left alone."""
    RUNS.work(
        run_pk,
        _search,
        clock=clock,
        explained=(Refusal, sizing.InputOutOfRange),
        explain=_plain,
        words="The search failed on this roof. Please tell whoever looks after the server: its log says"
        " where.",
    )


def _search(run: Run[LayRun]) -> None:
    asked, tell = run.row, partial(run.tell, every=TELL_EVERY)
    design = design_in_full(asked.design_id)
    options = LayoutOptions.from_json(asked.options)
    with suppress(sizing.SearchStopped):
        for candidates in layout_candidates(design_state(design), _models(design, options), options, tell):
            if not run.write(result={"candidates": candidates}, engine_version=engine_version()):
                return
        run.write(state=LayRun.State.DONE, progress_fraction=1.0, doing="")


def _plain(problem: Exception) -> str:
    """Return why nothing was found in words of the page."""
    if isinstance(problem, sizing.NoFreePlace):
        return (
            "No panel of the chosen models fits: the roof keeps room for edges, things, lids and the way to "
            "walk. Try a smaller model, or without “only where feet find rafters”."
        )
    return str(problem)


@in_english
def layout_search_stop(*, design: Design, actor: User, at: datetime) -> None:
    """End the search of a design; what it has found stays to be taken."""
    require(actor, design.job.shop, "may_design")
    design.lay_runs.filter(state__in=OPEN).update(state=LayRun.State.STOPPED, touched_at=at, doing="")


@in_english
def layout_candidate_take(
    *, design: Design, candidate: Mapping[str, Any], change: Change
) -> SizingRun | None:
    """Store a candidate as the roof of the revision: one change, as if it had been laid by hand."""
    read = read_design(design_in_full(design.pk))
    labels = [one.label for one in read.design.roof.controllers]
    edit = read_layout(candidate["layout"], read.models, labels, read.design.roof.panels)
    return layout_save(design=design, edit=edit, change=change)


def layout_search_reap(*, at: datetime) -> int:
    """End what a worker left half done; return how many were found."""
    return RUNS.take_up(
        error="The server stopped during this search. Please start it again.", at=at, enqueue=_enqueue
    )
