"""Works on the queue in lanes: a thread each, so that hours of shade never keep a letter waiting."""

from __future__ import annotations

import logging
import os
import secrets
import socket
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.db import connection

# The command's Worker class is not promised to stay: the version is pinned and a test starts it.
from django_tasks_db.management.commands.db_worker import Worker

from config.background.keeper import Keeper

#: What people wait for in seconds, and what computes for minutes.
LANES: Final[dict[str, tuple[str, ...]]] = {
    "papers": ("default", "papers"),
    "mail": ("mail",),
    "tidy": ("tidy", "reminders"),
    "shade": ("shade",),
}
#: A lane whose database went away tries again after so long. [s]
_AGAIN_AFTER: Final = 2.0

logger = logging.getLogger(__name__)


@dataclass
class Workers:
    """The lanes of one process and their keeper."""

    threads: list[threading.Thread]
    workers: list[Worker]
    keeper: Keeper

    def stop(self) -> None:
        """Let each lane end after the work it is at."""
        for worker in self.workers:
            worker.running = False
        self.keeper.stop()

    def join(self) -> None:
        """Wait until every lane has ended."""
        for thread in (*self.threads, self.keeper):
            while thread.is_alive():
                thread.join(0.5)  # in pieces: a signal is heard between them


def start_lanes(names: Sequence[str] = tuple(LANES)) -> Workers:
    """Start a thread a lane and the keeper; raise ``KeyError`` for a lane there is not."""
    queues = {name: LANES[name] for name in names}
    process = f"{socket.gethostname()[:16]}-{os.getpid()}-{secrets.token_hex(3)}"
    keeper = Keeper(process, ",".join(names))
    keeper.beat()
    workers = [_worker(f"{process}/{name}", list(queue)) for name, queue in queues.items()]
    threads = [threading.Thread(target=_run, args=[one], name=one.worker_id, daemon=True) for one in workers]
    for thread in (*threads, keeper):
        thread.start()
    return Workers(threads, workers, keeper)


def _worker(name: str, queue: list[str]) -> Worker:
    return Worker(
        queue_names=queue,
        interval=0.5,
        batch=False,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=name,
        excluded_queue_names=[],
    )


def _run(worker: Worker) -> None:
    """Run a lane until it is told to stop; a database that is away for a while does not end it."""
    pause = threading.Event()
    while worker.running:
        try:
            worker.run()
        except Exception:
            logger.exception("lane %s stumbled and goes on", worker.worker_id)
            connection.close()
            pause.wait(_AGAIN_AFTER)
    connection.close()
