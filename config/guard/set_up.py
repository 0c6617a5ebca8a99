"""Puts triggers and policies into the database after every migration, and takes them away before one.

A migration may rebuild a table (SQLite) or drop a column a trigger reads: so none is there while it works.
"""

from __future__ import annotations

from typing import Any

from django.db import connections

from config.guard.policies import policies_away, policies_set
from config.guard.triggers import PREFIX, Trigger, postgres_sql, sqlite_sql, triggers

_LISTED = {
    "sqlite": "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
    " WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace",
}


def missing(using: str = "default") -> list[str]:
    """Return the names of triggers that should be there and are not."""
    connection = connections[using]
    return sorted({one.name for one in _wanted(connection)} - _there(connection).keys())


def guards_away(*, using: str = "default", plan: Any = (), **_: Any) -> None:
    """Take every trigger away, where something is about to be migrated."""
    connection = connections[using]
    if plan and connection.vendor in _LISTED:
        with connection.cursor() as cursor:
            for name, table in _there(connection).items():
                _drop(connection, cursor, name, table)
            if connection.vendor == "postgresql":
                policies_away(cursor)


def guards_set(*, using: str = "default", **_: Any) -> None:
    """Make the triggers and policies that are missing and drop those of earlier models."""
    connection = connections[using]
    if connection.vendor not in _LISTED:
        return
    there, wanted = _there(connection), _wanted(connection)
    write = postgres_sql if connection.vendor == "postgresql" else sqlite_sql
    with connection.cursor() as cursor:
        for name in there.keys() - {one.name for one in wanted}:
            _drop(connection, cursor, name, there[name])
        for one in wanted:
            if one.name not in there:
                for statement in write(one):
                    cursor.execute(statement)
        if connection.vendor == "postgresql":
            policies_set(cursor, set(connection.introspection.table_names(cursor)))


def _there(connection: Any) -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(_LISTED[connection.vendor])
        return {name: table for name, table in cursor.fetchall() if name.startswith(PREFIX)}


def _drop(connection: Any, cursor: Any, name: str, table: str) -> None:
    if connection.vendor == "postgresql":
        cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
        cursor.execute(f"DROP FUNCTION IF EXISTS {name}()")
    else:
        cursor.execute(f"DROP TRIGGER IF EXISTS {name}")


def _wanted(connection: Any) -> list[Trigger]:
    """Return the triggers whose tables and columns are there: a database may be of an earlier release."""
    write = postgres_sql if connection.vendor == "postgresql" else sqlite_sql
    columns: dict[str, set[str]] = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if table.startswith(("jobs_", "checklists_")):
                told = connection.introspection.get_table_description(cursor, table)
                columns[table] = {one.name for one in told}
    return [
        one
        for one in triggers()
        if write(one)
        and one.table in columns
        and (not one.changed or one.changed in columns[one.table])
        and all(column in columns.get(table, ()) for table, column in one.needs)
    ]
