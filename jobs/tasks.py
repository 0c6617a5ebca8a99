"""Knows what runs in the background: long sums that no page may wait for."""

from __future__ import annotations

from django.tasks import task
from django.utils import timezone

from jobs.services import lay as lay_do
from jobs.services import shade as shade_do


@task
def shade_work(run_pk: int) -> None:
    """Work out one shade run."""
    shade_do.shade_work(run_pk, clock=timezone.now)


@task(priority=50)
def lay_work(run_pk: int) -> None:
    """Search layouts for one roof; before other work, because somebody waits for the first look."""
    lay_do.lay_work(run_pk, clock=timezone.now)
