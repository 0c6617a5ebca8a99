"""Knows install records to tell tests with: the golden job accepted, and a small two-panel one."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Any

import pytest

from tests.replay import replayed
from tests.roles import step_of


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Any) -> None:
    """Keep the files of a test in its own folder."""
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def checklist(golden_job: Any, now: dt.datetime) -> Any:
    """Return the install record of the golden job, its design frozen as accepted."""
    return open_for(golden_job, now)


@pytest.fixture
def second_list(golden_job: Any, now: dt.datetime) -> Any:
    """Return the install record of the golden job, opened with the second list of steps."""
    return open_for(golden_job, now, "2")


@pytest.fixture
def two_panel_checklist(golden_job: Any, now: dt.datetime) -> Any:
    """Return an install of two P200 side by side (1S2P) on 6.1 m of 8 AWG, judged as two conductors."""
    two_panels(golden_job)
    return open_for(golden_job, now)


def two_panels(golden_job: Any) -> None:
    """Leave two panels side by side (1S2P) on 6.1 m of 8 AWG, judged as two conductors."""
    from jobs.models import DesignCircuit, DesignPanel

    design = golden_job.designs.first()
    design.panels.filter(number__gt=2).delete()
    strings = {string.number: string for string in design.strings.all()}
    for panel in DesignPanel.objects.filter(design=design):
        panel.string, panel.position_in_string = strings[panel.number], 1
        panel.save()
    DesignCircuit.objects.filter(design=design, label="C2").update(run_len_m=6.1, size="8", bundle_count=2)
    design.runs.all().delete()


@pytest.fixture
def entry() -> Callable[..., Any]:
    """Return a maker of events at a step, named by role and subject."""
    from checklists.rules.entries import Entry

    def make(checklist: Any, role: str, name: str, value: Any, subject: str = "", **more: Any) -> Any:
        step = step_of(checklist, role, subject)
        return Entry(id=more.pop("id", uuid.uuid4()), step=step.pk, field=name, value=value, **more)

    return make


@pytest.fixture
def record(entry: Callable[..., Any], bob: Any, now: dt.datetime) -> Callable[..., Any]:
    """Return a recorder of one value by Bob."""
    from checklists.record.events import events_record

    def make(checklist: Any, role: str, name: str, value: Any, subject: str = "", **more: Any) -> Any:
        actor, at = more.pop("actor", bob), more.pop("at", now)
        made = entry(checklist, role, name, value, subject, **more)
        return events_record(checklist=checklist, entries=[made], actor=actor, at=at)

    return make


@pytest.fixture
def opened(golden_job: Any, now: dt.datetime) -> Callable[..., Any]:
    """Return an opener of the golden job's install record on a version of the steps."""
    return lambda version: open_for(golden_job, now, version)


def open_for(job: Any, now: dt.datetime, version: str = "1") -> Any:
    """Open the install record of a job on its newest design, the deposit taken and the parts here.

    The first list of steps stays in use by the jobs begun with it, and most tests of the rules are told with
    it; the tests of the second list ask for that one.
    """
    from checklists.models import Checklist

    replayed(f"open {job.pk} {now} {version}", lambda: _open(job, now, version))
    return Checklist.objects.get(job=job)


def _open(job: Any, now: dt.datetime, version: str) -> None:
    from checklists.office.opening import checklist_open
    from jobs.design.revision import design_freeze
    from jobs.engine.stored import latest_run
    from jobs.models import Quote
    from jobs.shop.actor import ByName

    design = job.designs.first()
    design_freeze(design=design, actor=ByName("Test"), at=now)
    quote = Quote.objects.create(
        job=job,
        design=design,
        run=latest_run(design),
        number=90,
        state="accepted",
        accepted_by_name="Pat",
        answered_at=now,
    )
    type(job).objects.filter(pk=job.pk).update(state="ready")
    checklist_open(quote=quote, at=now, version=version)
