"""The SQLite under Django: the newer one of machine and package, with the limits it was compiled with."""

from __future__ import annotations

import sqlite3

import pytest
from django.db import connection

from config.checks import is_safe
from config.sqlite import LIMITS

ON_SQLITE = pytest.mark.skipif(connection.vendor != "sqlite", reason="asks SQLite")


@ON_SQLITE
@pytest.mark.django_db
def test_several_processes_may_write():
    """The version Django tells is the one that runs the statements, and has no WAL-reset fault."""
    with connection.cursor() as cursor:
        (running,) = cursor.execute("SELECT sqlite_version()").fetchone()
    assert tuple(int(part) for part in running.split(".")) == connection.get_database_version()
    assert is_safe(connection.get_database_version())


@ON_SQLITE
@pytest.mark.django_db
def test_limits_are_real():
    """As many parameters as Django is told may be bound, and one more may not."""
    most = connection.features.max_query_params
    with connection.cursor() as cursor:
        marks = ",".join(["%s"] * most)
        assert cursor.execute(f"SELECT 1 IN ({marks})", [1] * most).fetchone() == (1,)
        raw = connection.connection
        with pytest.raises(sqlite3.OperationalError, match="too many SQL variables"):
            raw.execute(f"SELECT 1 IN ({','.join(['?'] * (most + 1))})", [1] * (most + 1))
        assert (
            raw.getlimit(LIMITS["SQLITE_LIMIT_COLUMN"][0]) == 2000
        )  # SQLite's default, sqlite.org/limits.html
