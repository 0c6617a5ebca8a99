"""Makes a backup before a release changes a shop's database, and refuses one of a later release."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from config.keep.backup import backup_write
from config.keep.rows import later_here, migrations_of


class UpgradeRefused(ValueError):
    """This release may not touch the database; nothing was changed."""


def backup_before(*, at: datetime) -> Path | None:
    """Write a backup of its own kind where migrating would change a database with a shop; return its file.

    Raise UpgradeRefused for a database of a later release, OSError where no backup can be written.
    """
    if later := later_here(migrations_of("default")):
        raise UpgradeRefused(
            f"This database was last used by a later release (it has had {later[-1]}). Install that release"
            " again; or keep this one, move the database away and bring back the backup made before the"
            " upgrade: manage.py restore FILE."
        )
    executor = MigrationExecutor(connection)
    if not executor.migration_plan(executor.loader.graph.leaf_nodes()) or not _holds_a_shop():
        return None
    folder, passphrase = Path(settings.BACKUP_DIR), settings.BACKUP_PASSPHRASE
    return backup_write(folder, at=at, passphrase=passphrase, kind="before-upgrade")


def _holds_a_shop() -> bool:
    """Return whether there is a shop, asking for no column that an older release lacks."""
    if "jobs_shop" not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT 1 FROM jobs_shop)")
        return bool(cursor.fetchone()[0])
