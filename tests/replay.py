"""Knows how to do something slow to the records once and to put its outcome back afterwards.

Many tests begin with the same job, the same accepted quote or the same finished record. What was done the
first time is kept as rows and files; it is put back only where every record before it is the same, so
nothing can go stale. Rows are read and written as the database holds them: a thousand take milliseconds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.contrib.auth.models import User
from django.db import connection, models
from django.utils import timezone

from common.guard import door_opened
from tests.on_postgres import counters_follow, is_postgres

Row = tuple[Any, ...]
Rows = dict["Table", dict[Any, Row]]
#: A person's record also tells when the test began.
CLOCKS = {User: ("last_login", "date_joined", "password")}


@dataclass(frozen=True)
class Table:
    """One table: its name, the key and the columns compared, those the clock fills in when a row is made."""

    name: str
    columns: tuple[str, ...]
    clocks: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """What was answered, and what changed: rows made and mended, keys of rows that are gone, files."""

    answer: Any
    made: dict[Table, list[Row]]
    mended: dict[Table, list[Row]]
    gone: dict[Table, list[Any]]
    files: dict[str, bytes]


_KEPT: dict[Any, Outcome] = {}


def replayed(name: str, build: Callable[[], Any]) -> Any:
    """Call ``build``, or put back what it did to equal records; ``name`` tells one build from another.

    What it returns must be plain: it is kept as it is.
    """
    before, files = _rows(), frozenset(_files())
    key = (name, files, hash(tuple((table, tuple(rows.items())) for table, rows in before.items())))
    if key in _KEPT:
        _put(_KEPT[key])
    else:
        _KEPT[key] = _outcome(build(), before, files)
    return _KEPT[key].answer


@cache
def _tables() -> tuple[Table, ...]:
    models_of = [*apps.get_app_config("jobs").get_models(), *apps.get_app_config("checklists").get_models()]
    return tuple(_table(model) for model in [User, *models_of])


def _table(model: type[models.Model]) -> Table:
    fields = model._meta.concrete_fields
    clocks = [one.column for one in fields if getattr(one, "auto_now_add", False)]
    clocks += CLOCKS.get(model, ())
    columns = [one.column for one in fields if one.column not in clocks and not one.primary_key]
    return Table(model._meta.db_table, (model._meta.pk.column, *columns), tuple(clocks))


def _rows() -> Rows:
    found = {}
    with connection.cursor() as cursor:
        for table in _tables():
            cursor.execute(f"SELECT {_as_stored(table.columns)} FROM {table.name} ORDER BY 1")
            found[table] = {row[0]: row for row in cursor.fetchall()}
    return found


@cache
def _list(columns: tuple[str, ...]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


@cache
def _as_stored(columns: tuple[str, ...]) -> str:
    """Return the columns so that the driver makes no days of them: text, or on SQLite a plus sign."""
    before, after = ('"', '"::text') if is_postgres() else ('+"', '"')
    return ", ".join(f"{before}{column}{after}" for column in columns)


def _files() -> Iterator[str]:
    root = Path(settings.MEDIA_ROOT)
    return (str(path.relative_to(root)) for path in root.rglob("*") if path.is_file())


def _outcome(answer: Any, before: Rows, files: frozenset[str]) -> Outcome:
    made, mended, gone = {}, {}, {}
    for table, rows in _rows().items():
        old = before[table]
        made[table] = [row for pk, row in rows.items() if pk not in old]
        mended[table] = [row for pk, row in rows.items() if pk in old and old[pk] != row]
        gone[table] = [pk for pk in old if pk not in rows]
    new = set(_files()) - files
    return Outcome(
        answer, made, mended, gone, {path: (Path(settings.MEDIA_ROOT) / path).read_bytes() for path in new}
    )


def _put(outcome: Outcome) -> None:
    now = str(timezone.now().replace(tzinfo=None))
    with door_opened(), connection.cursor() as cursor:  # the keys are looked at when all are there
        for table in _tables():
            _put_rows(cursor, table, outcome, now)
        if is_postgres():
            counters_follow()
    for path, data in outcome.files.items():
        place = Path(settings.MEDIA_ROOT) / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)


def _put_rows(cursor: Any, table: Table, outcome: Outcome, now: str) -> None:
    columns, late = (*table.columns, *table.clocks), (now,) * len(table.clocks)
    if rows := outcome.made[table]:
        marks = ", ".join(["%s"] * len(columns))
        insert = f"INSERT INTO {table.name} ({_list(columns)}) VALUES ({marks})"
        cursor.executemany(insert, [(*row, *late) for row in rows])
    if rows := outcome.mended[table]:
        sets = ", ".join(f'"{column}" = %s' for column in table.columns[1:])
        update = f'UPDATE {table.name} SET {sets} WHERE "{table.columns[0]}" = %s'
        cursor.executemany(update, [(*row[1:], row[0]) for row in rows])
    if keys := outcome.gone[table]:
        cursor.executemany(
            f'DELETE FROM {table.name} WHERE "{table.columns[0]}" = %s', [(key,) for key in keys]
        )
