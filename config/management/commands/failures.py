"""Lists what failed in the background, of every shop and of none."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from checklists.office.failures import failures_of


class Command(BaseCommand):
    """Say what failed, when and why; the last line of a traceback where there is one."""

    help = "List what failed in the background: work of the shops, and tasks of the installation."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print a line each."""
        for one in failures_of():
            number = f" job {one.job.number}" if one.job else ""
            self.stdout.write(f"{one.at:%Y-%m-%d %H:%M} {one.title}{number}: {one.error}")
        tasks = DBTaskResult.objects.filter(status=TaskResultStatus.FAILED).order_by("-finished_at")
        for task in tasks:
            why = (task.traceback.strip().splitlines() or ["no word"])[-1]
            self.stdout.write(f"{task.finished_at:%Y-%m-%d %H:%M} {task.task_path} {task.pk}: {why}")
        if not tasks and not failures_of():
            self.stdout.write("Nothing failed.")
