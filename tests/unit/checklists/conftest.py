"""Knows an install record to tell tests with: the golden job, accepted."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest


@pytest.fixture
def checklist(golden_job: Any, now: dt.datetime) -> Any:
    """Return the install record of the golden job, its design frozen as accepted."""
    return open_for(golden_job, now)


def open_for(job: Any, now: dt.datetime) -> Any:
    """Open the install record of a job on its newest design."""
    from checklists.services.opening import checklist_open
    from jobs.models import Quote
    from jobs.services.design import design_freeze
    from jobs.selectors.design import latest_run

    design = job.designs.first()
    design_freeze(design=design, actor="Test", at=now)
    quote = Quote.objects.create(
        job=job, design=design, run=latest_run(design), number=1, state="accepted", accepted_by_name="Pat"
    )
    type(job).objects.filter(pk=job.pk).update(state="ready")
    return checklist_open(quote=quote, at=now)
