"""Knows what runs in the background for installs: sums a technician must not wait for."""

from __future__ import annotations

from django.tasks import task
from django.utils import timezone

from checklists.models import Checklist
from checklists.services.sums import sums_of


@task
def sums_work(checklist_pk: int) -> None:
    """Make the tables of one job."""
    checklist = Checklist.objects.select_related("run", "design").filter(pk=checklist_pk).first()
    if checklist is not None:
        sums_of(checklist, at=timezone.now())
