"""Keeps the work going: says this process is alive, takes up what others left, starts what is due."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import connection
from django.tasks import TaskResultStatus
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from checklists.sheet.print import sheets_reap
from common.background import SILENT
from config.background.periodic import start_due
from config.keep.shop_archive import archives_reap
from config.models import WorkerBeat
from jobs.autolayout.run import layout_search_reap
from jobs.forms.import_run import table_runs_reap
from jobs.shade.run import shade_reap
from jobs.shop.outbox import mails_due

#: Between two rounds of the keeper. [s]
ROUND: Final = 5.0
#: A task whose worker stopped is begun so often in all; then it stands as failed.
MOST_TRIES: Final = 3
#: Beats of processes that are long gone.
_OLD: Final = timedelta(days=1)

logger = logging.getLogger(__name__)


class Keeper(threading.Thread):
    """The thread of a worker process that does no work itself."""

    def __init__(self, process: str, lanes: str, clock: Callable[[], datetime] = timezone.now) -> None:
        super().__init__(name=f"{process}/keeper", daemon=True)
        self.process = process
        self._lanes = lanes
        self._clock = clock
        self._is_over = threading.Event()

    def run(self) -> None:
        """Make rounds until told to stop; one that fails is logged, the next one comes."""
        while not self.is_over:
            try:
                self.round()
            except Exception:
                logger.exception("a round of the keeper failed")
                connection.close()
            self._is_over.wait(ROUND)
        connection.close()

    @property
    def is_over(self) -> bool:
        """Whether it was told to stop."""
        return self._is_over.is_set()

    def stop(self) -> None:
        """End after this round."""
        self._is_over.set()

    def round(self) -> None:
        """Beat, take up what stopped, start what is due."""
        self.beat()
        take_up_all(at=self._clock())
        start_due(at=self._clock())

    def beat(self) -> None:
        """Write down that this process is alive."""
        at = self._clock()
        WorkerBeat.objects.update_or_create(
            worker=self.process,
            defaults={"at": at, "lanes": self._lanes},
            create_defaults={"at": at, "lanes": self._lanes, "started_at": at},
        )


def take_up_all(*, at: datetime) -> int:
    """Take up rows and tasks of workers that fell silent; return how many there were."""
    reaps = (shade_reap, layout_search_reap, table_runs_reap, sheets_reap, mails_due, archives_reap)
    rows = sum(reap(at=at) for reap in reaps)
    return rows + _take_up_tasks(at)


def _take_up_tasks(at: datetime) -> int:
    """Put tasks of silent workers back into the queue, or have them failed after the last try.

    Every task may run twice: it looks itself whether its row still waits.
    """
    alive = set(WorkerBeat.objects.filter(at__gte=at - SILENT).values_list("worker", flat=True))
    WorkerBeat.objects.filter(at__lt=at - _OLD).delete()
    found = 0
    for task in DBTaskResult.objects.filter(status=TaskResultStatus.RUNNING).only("pk", "worker_ids"):
        if task.worker_ids and task.worker_ids[-1].split("/")[0] in alive:
            continue
        found += _put_back(task, at)
    return found


def _put_back(task: DBTaskResult[Any, Any], at: datetime) -> int:
    running = DBTaskResult.objects.filter(status=TaskResultStatus.RUNNING, started_at__lt=at - SILENT)
    mine = running.filter(pk=task.pk)
    if len(task.worker_ids) < MOST_TRIES:
        return mine.update(status=TaskResultStatus.READY, started_at=None)
    return mine.update(
        status=TaskResultStatus.FAILED, finished_at=at, traceback="Its worker stopped each time it was tried."
    )
