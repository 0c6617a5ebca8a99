"""The one door through which rows that never change may be changed: erasure, restoring, tests.

The database itself refuses everybody else, by the triggers of ``config/guard``. On PostgreSQL the door is a
setting of the transaction, on SQLite a function that only our own connections know: another program cannot
change the log without first taking the trigger away.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any, Final

from django.db import connections, transaction

#: The function that triggers ask on SQLite, the setting they read on PostgreSQL.
SQLITE_DOOR: Final = "coachlight_door"
POSTGRES_DOOR: Final = "coachlight.door"
_OPEN: Final = "coachlight_door_open"


@contextlib.contextmanager
def door_opened(using: str = "default") -> Iterator[None]:
    """Let this connection change what never changes, in a transaction that is wholly done or not at all."""
    connection = connections[using]
    with transaction.atomic(using=using):
        if connection.vendor == "postgresql":
            _say(connection, "open")
            yield
            _say(connection, "")  # after a fault the rollback closes it
            return
        before = getattr(connection, _OPEN, 0)
        setattr(connection, _OPEN, 1)
        try:
            yield
        finally:
            setattr(connection, _OPEN, before)


def _say(connection: Any, word: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config(%s, %s, true)", [POSTGRES_DOOR, word])


def know_the_door(connection: Any) -> None:
    """Tell a new SQLite connection the function its triggers ask."""
    if connection.vendor == "sqlite":
        connection.connection.create_function(SQLITE_DOOR, 0, lambda: getattr(connection, _OPEN, 0))
