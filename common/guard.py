"""The one door through which rows that never change may be changed, and which shop's rows are seen.

Erasure, restoring and tests go through the door; the database itself refuses everybody else, by what
``config/guard`` puts into it. On PostgreSQL the door is a setting of the transaction, on SQLite a function
that only our own connections know: another program cannot change the log without first taking the trigger
away.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar
from typing import Any, Final

from django.db import DatabaseError, connections, transaction

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


#: The shop whose rows a request may see; None where a person has no shop yet, in workers and in commands.
SEEN: Final[ContextVar[int | None]] = ContextVar("seen_shop", default=None)
POSTGRES_SHOP: Final = "coachlight.shop"
EVERY_SHOP: Final = "every"
#: Policies do not bind a superuser: a connection of one takes this role while a shop is known.
ROWS_ROLE: Final = "coachlight_rows"
_IS_ABOVE: Final = "coachlight_is_superuser"


def only_shop(pk: int) -> contextlib.AbstractContextManager[None]:
    """Have the database show this thread one shop's rows only, whatever a query forgets to ask."""
    return _seeing(pk)


def every_shop() -> contextlib.AbstractContextManager[None]:
    """Have every shop's rows shown: for a visitor whose link, not whose sign-in, says which shop it is."""
    return _seeing(None)


@contextlib.contextmanager
def _seeing(pk: int | None) -> Iterator[None]:
    connection = connections["default"]
    token = SEEN.set(pk)
    try:
        _narrow(connection)
        yield
    finally:
        SEEN.reset(token)
        try:
            _narrow(connection)
        except DatabaseError:  # broken, or in a transaction that failed: the next one begins anew
            connection.close()


def _narrow(connection: Any) -> None:
    """Tell PostgreSQL which shop's rows this connection may see."""
    if connection.vendor != "postgresql" or connection.connection is None:  # a new one asks know_the_shop
        return
    seen = SEEN.get()
    with connection.cursor() as cursor:
        role = ROWS_ROLE if seen is not None and getattr(connection, _IS_ABOVE, False) else "none"
        cursor.execute(
            "SELECT set_config('role', %s, false), set_config(%s, %s, false)",
            [role, POSTGRES_SHOP, EVERY_SHOP if seen is None else str(seen)],
        )


def know_the_shop(connection: Any) -> None:
    """Tell a new PostgreSQL connection which rows it may see: without this it sees none."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = session_user")
            setattr(connection, _IS_ABOVE, cursor.fetchone()[0])
        _narrow(connection)
