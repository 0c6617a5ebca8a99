"""Looks whether the installation can work: database, migrations, workers, disk."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from common.background import SILENT
from config.models import WorkerBeat

#: With less the next photos and papers may not be stored any more. [bytes]
LEAST_FREE: Final = 500 * 1024 * 1024


@dataclass(frozen=True)
class Finding:
    """What one probe found; ``words`` say what is wrong and what to do."""

    name: str
    is_ok: bool
    words: str


def look(*, at: datetime) -> list[Finding]:
    """Return what each probe finds; one that cannot look has not passed."""
    probes: tuple[Callable[[datetime], Finding], ...] = (_database, _migrations, _workers, _disk)
    return [_looked(probe, at) for probe in probes]


def _looked(probe: Callable[[datetime], Finding], at: datetime) -> Finding:
    try:
        return probe(at)
    except (DatabaseError, OSError) as problem:
        return Finding(probe.__name__.strip("_"), False, f"cannot be looked at: {type(problem).__name__}")


def _database(at: datetime) -> Finding:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return Finding("database", True, "answers")


def _migrations(at: datetime) -> Finding:
    waiting = waiting_migrations()
    words = f"{len(waiting)} not applied: run manage.py migrate" if waiting else "all applied"
    return Finding("migrations", not waiting, words)


def waiting_migrations() -> list[str]:
    """Return the names of migrations the database has not had yet."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label}.{migration.name}" for migration, _ in plan]


def _workers(at: datetime) -> Finding:
    alive = WorkerBeat.objects.filter(at__gte=at - SILENT).count()
    return Finding("workers", alive > 0, f"{alive} alive" if alive else "none alive: start manage.py worker")


def _disk(at: datetime) -> Finding:
    free = min(
        shutil.disk_usage(_existing(Path(path))).free for path in (settings.VAR_DIR, settings.MEDIA_ROOT)
    )
    words = f"{free // 1024**2} MB free"
    return Finding("disk", free >= LEAST_FREE, words if free >= LEAST_FREE else f"{words}: make room")


def _existing(path: Path) -> Path:
    """Return the folder, or the nearest one above it that is there."""
    return path if path.exists() else _existing(path.parent)
