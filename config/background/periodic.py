"""Knows what is done again and again, and has each done once though many workers look at the clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management import call_command
from django.tasks import task
from django.utils import timezone

from checklists.photos.tidying import photos_tidy
from config.keep.backup import backup_write
from config.keep.retention import backups_drop
from config.keep.shop_archive import archives_drop
from config.models import Periodic
from jobs.quote.remind import offers_remind
from jobs.schedule.visit import visits_remind


@task(queue_name="tidy")
def tidy_task() -> None:
    """Remove what never became a photo or a sheet."""
    photos_tidy(at=timezone.now())


@task(queue_name="tidy")
def archives_task() -> None:
    """Remove archives nobody should keep here any longer."""
    archives_drop(at=timezone.now())


@task(queue_name="tidy")
def forget_task() -> None:
    """Forget work that ended two weeks ago; what failed is kept for two months."""
    call_command(
        "prune_db_task_results", min_age_days=14, failed_min_age_days=60, queue_name="*", verbosity=0
    )


@task(queue_name="tidy")
def backup_task() -> None:
    """Write the day's backup and drop those that need not stay."""
    folder = Path(settings.BACKUP_DIR)
    backup_write(folder, at=timezone.now(), passphrase=settings.BACKUP_PASSPHRASE)
    backups_drop(folder)


@task(queue_name="mail")
def remind_task() -> None:
    """Remind customers whose work begins tomorrow, and those who have not answered an offer."""
    visits_remind(at=timezone.now())
    offers_remind(at=timezone.now())


@dataclass(frozen=True)
class Due:
    """One line of the clock's list."""

    name: str
    every: timedelta
    start: Callable[[], Any]


CLOCK: Final = (
    Due("tidy", timedelta(days=1), tidy_task.enqueue),
    Due("archives", timedelta(days=1), archives_task.enqueue),
    Due("forget", timedelta(days=1), forget_task.enqueue),
    Due("backup", timedelta(days=1), backup_task.enqueue),
    Due("remind", timedelta(hours=1), remind_task.enqueue),
)


def start_due(*, at: datetime, clock_list: tuple[Due, ...] = CLOCK) -> list[str]:
    """Start what is due; return the names of what this caller started: of several, one wins."""
    started = []
    for due in clock_list:
        Periodic.objects.get_or_create(name=due.name, defaults={"due_at": at})
        if Periodic.objects.filter(name=due.name, due_at__lte=at).update(due_at=at + due.every):
            due.start()
            started.append(due.name)
    return started
