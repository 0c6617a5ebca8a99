"""Knows what runs in the background: long sums that no page may wait for."""

from __future__ import annotations

from django.tasks import task
from django.utils import timezone

from jobs.services import shade as shade_do


@task
def shade_work(run_pk: int) -> None:
    """Work out one shade run."""
    shade_do.shade_work(run_pk, clock=timezone.now)
