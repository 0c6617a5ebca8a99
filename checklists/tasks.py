"""Knows what runs in the background for installs: sums and papers that nobody must wait for."""

from __future__ import annotations

from django.tasks import task
from django.utils import timezone

from checklists.models import Checklist
from checklists.services.sheet_printing import sheet_print
from checklists.services.sums import sums_of


@task
def sums_work(checklist_pk: int) -> None:
    """Make the tables of one job."""
    checklist = Checklist.objects.select_related("run", "design").filter(pk=checklist_pk).first()
    if checklist is not None:
        sums_of(checklist, at=timezone.now())


@task
def sheet_work(sheet_pk: int) -> None:
    """Print one issued sheet."""
    sheet_print(sheet_pk, clock=timezone.now)
