"""Runs background tasks inside the web process of a small shop."""

from __future__ import annotations

import os
import threading
from typing import Any

from django.utils import timezone

# The command's Worker class is not promised to stay: the version is pinned and a test starts it.
from django_tasks_db.management.commands.db_worker import Worker

from checklists.sheet.print import sheets_reap
from jobs.autolayout.run import layout_search_reap
from jobs.shade.run import shade_reap


def start_worker_thread() -> Any:
    """Start one worker thread on every queue and return the worker; ``worker.running = False`` ends it.

    The thread is the only worker of a small shop: what an earlier one left half done is taken up first.
    """
    shade_reap(at=timezone.now())
    layout_search_reap(at=timezone.now())
    sheets_reap(at=timezone.now())
    worker = Worker(
        queue_names=["*"],
        interval=0.5,
        batch=False,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=f"inproc-{os.getpid()}",
        excluded_queue_names=[],
    )
    threading.Thread(target=worker.run, daemon=True, name="tasks").start()
    return worker
