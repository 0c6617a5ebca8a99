"""Runs tests on a PostgreSQL of their own: ``python -m tests.on_postgres tests/web`` takes what pytest takes.

Any other server will do as well: tests use whatever ``DATABASE_URL`` names. Numbers that a rolled back test
drew are drawn again by the next one (``counters_reset``), as SQLite does it: records stay the same from test
to test, and ``tests/replay.py`` finds them.
"""

from __future__ import annotations

import os
import subprocess
import sys
from functools import cache
from pathlib import Path

_FOLLOW = "SELECT setval('{sequence}', COALESCE((SELECT MAX({column}) FROM {table}), 0) + 1, false)"
_COUNTED = (
    "SELECT pg_get_serial_sequence(quote_ident(table_name), column_name), quote_ident(column_name),"
    " quote_ident(table_name) FROM information_schema.columns"
    " WHERE table_schema = 'public' AND is_identity = 'YES'"
)
_BEGIN = (
    "SELECT setval(quote_ident(sequencename)::regclass, 1, false) FROM pg_sequences"
    " WHERE schemaname = 'public' AND last_value IS NOT NULL"
)
#: Tables that are never rolled back: they are filled when the database is made.
_KEPT = ("auth_permission", "django_content_type")


def is_postgres() -> bool:
    """Return whether the tests' database is PostgreSQL."""
    from django.db import connection

    return connection.vendor == "postgresql"


def counters_reset() -> None:
    """Have every counter begin anew; to be called while the tables are empty."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(_BEGIN)
    counters_follow(_KEPT)


def counters_follow(tables: tuple[str, ...] = ()) -> None:
    """Have counters go on after rows that brought their own numbers: all of them, or some tables'."""
    from django.db import connection

    with connection.cursor() as cursor:
        for sequence, column, table in _counters():
            if not tables or table in tables:
                cursor.execute(_FOLLOW.format(sequence=sequence, column=column, table=table))


@cache
def _counters() -> list[tuple[str, str, str]]:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(_COUNTED)
        return list(cursor.fetchall())


def main() -> int:
    """Start a server, run pytest on it, stop it; return what pytest returned."""
    from tests.soak.postgres import cluster

    with cluster() as address:
        command = [sys.executable, "-m", "pytest", *sys.argv[1:]]
        env = os.environ | {"DATABASE_URL": address}
        return subprocess.run(command, cwd=Path(__file__).parents[1], env=env, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
