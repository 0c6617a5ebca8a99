"""Writes every row as a line of JSON, and reads such lines back, on any database and any release."""

from __future__ import annotations

import base64
import contextlib
import datetime as dt
import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import connections, models, transaction
from django.db.migrations.executor import MigrationExecutor

from common.guard import door_opened

#: Rows of these come with the program, or are worth nothing on another day: sign-ins, queue, heartbeats.
LEFT_OUT: Final = {
    "contenttypes.contenttype", "auth.permission", "sessions.session",
    "django_tasks_database.dbtaskresult", "config.workerbeat", "config.cacherow", "usersessions.usersession",
    "config.shoparchive",
}  # fmt: skip
#: Rows written in one statement.
BATCH: Final = 500
COPY: Final = "backup_copy"
#: Apps whose migrations are written here.
OURS: Final = {"jobs", "checklists", "config"}

Model = type[models.Model]


def stored_models(registry: Any = apps) -> list[Model]:
    """Return the models whose rows are kept, link tables of many-to-many fields included."""
    found = registry.get_models(include_auto_created=True)
    return [
        one
        for one in found
        if one._meta.managed and not one._meta.proxy and one._meta.label_lower not in LEFT_OUT
    ]


@contextlib.contextmanager
def frozen_rows() -> Iterator[str]:
    """Yield the name of a connection that sees one moment of the database while others go on writing."""
    live = connections["default"]
    if live.vendor == "sqlite":
        with TemporaryDirectory() as folder:
            copy = Path(folder) / "copy.sqlite3"
            with live.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(copy)])
            yield from _connected({**live.settings_dict, "NAME": str(copy)})
        return
    with transaction.atomic(), live.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        yield "default"


def _connected(settings: dict[str, Any]) -> Iterator[str]:
    connections.databases[COPY] = settings
    try:
        yield COPY
    finally:
        connections[COPY].close()
        del connections[COPY], connections.databases[COPY]


def lines_of(model: Model, using: str) -> Iterator[str]:
    """Yield each row of a model as a line of JSON, by key."""
    return lines_from(model._base_manager.using(using).order_by("pk"))


def lines_from(rows: models.QuerySet[Any]) -> Iterator[str]:
    """Yield rows as lines of JSON."""
    names = [field.attname for field in rows.model._meta.concrete_fields]
    for row in rows.values(*names).iterator(chunk_size=2000):
        plain = {name: _plain(value) for name, value in row.items()}
        yield json.dumps(plain, cls=DjangoJSONEncoder, ensure_ascii=False, separators=(",", ":")) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime | dt.time):  # Django's own encoder drops the microseconds
        return value.isoformat()
    return {"base64": base64.b64encode(value).decode()} if isinstance(value, bytes | memoryview) else value


def rows_from(model: Model, lines: Iterable[str]) -> Iterator[models.Model]:
    """Yield the rows that lines tell of; raise ValueError for a line that tells of another model's."""
    fields = {field.attname: field for field in model._meta.concrete_fields}
    for line in lines:
        told = json.loads(line)
        if told.keys() != fields.keys():
            odd = ", ".join(sorted(told.keys() ^ fields.keys()))
            raise ValueError(f"{model._meta.label}: fields differ ({odd})")
        yield model(**{name: _value(fields[name], value) for name, value in told.items()})


def _value(field: Any, value: Any) -> Any:
    if isinstance(field, models.BinaryField) and value is not None:
        return base64.b64decode(value["base64"])
    if isinstance(field, models.ForeignKey | models.JSONField):
        return value
    return field.to_python(value)


def migrations_of(using: str) -> list[str]:
    """Return the migrations a database has had."""
    applied = MigrationExecutor(connections[using]).loader.applied_migrations
    return sorted(f"{app}.{name}" for app, name in applied)


def models_at(names: Iterable[str]) -> Any:
    """Return the models as they were after these migrations; raise ValueError for an unknown one."""
    loader = MigrationExecutor(connections["default"]).loader
    keys = [(app, name) for app, _, name in (each.partition(".") for each in names)]
    if unknown := [".".join(key) for key in keys if key not in loader.graph.nodes]:
        raise ValueError(f"made by a later version: it knows {', '.join(unknown[:3])}, this one does not")
    return loader.project_state(keys).apps


def registry_of(names: Iterable[str]) -> Any:
    """Return the models that fit a database with these migrations: of today, or as they were.

    Raise ValueError for a database of a later version.
    """
    told = set(names)
    if later := later_here(told):
        raise ValueError(f"made by a later version: it knows {', '.join(later[:3])}, this one does not")
    on_disk = MigrationExecutor(connections["default"]).loader.disk_migrations
    pending = {f"{app}.{name}" for app, name in on_disk} - told
    return models_at(told) if pending and told else apps


def later_here(names: Iterable[str]) -> list[str]:
    """Return which of these migrations of our own apps this version does not know."""
    on_disk = MigrationExecutor(connections["default"]).loader.disk_migrations
    known, ours = {f"{app}.{name}" for app, name in on_disk}, {app for app, _ in on_disk}
    return sorted(name for name in set(names) - known if name.split(".")[0] in OURS & ours)


def write_rows(registry: Any, lines: dict[str, Iterable[str]]) -> dict[str, int]:
    """Replace every row by those the lines tell of, in the caller's transaction; return how many by model.

    Foreign keys are looked at when the transaction ends, so the order does not matter.
    """
    every = {model._meta.label_lower: model for model in stored_models(registry)}
    with door_opened():
        for model in every.values():
            model._base_manager.all()._raw_delete("default")
    return {label: _write(every[label], told) for label, told in lines.items()}


def write_new_rows(model: Model, lines: Iterable[str]) -> int:
    """Write rows beside those there are, in the caller's transaction; return how many."""
    return _write(model, lines)


def _write(model: Model, lines: Iterable[str]) -> int:
    count, batch = 0, []
    with _moments_kept(model):
        for row in rows_from(model, lines):
            batch.append(row)
            count += 1
            if len(batch) >= BATCH:
                model._base_manager.bulk_create(batch)
                batch = []
        model._base_manager.bulk_create(batch)
    return count


@contextlib.contextmanager
def _moments_kept(model: Model) -> Iterator[None]:
    """Have moments that a model sets to now written as they were."""
    own = [field for field in model._meta.concrete_fields if getattr(field, "auto_now_add", False)]
    own_each_time = [field for field in model._meta.concrete_fields if getattr(field, "auto_now", False)]
    for field in (*own, *own_each_time):
        field.auto_now = field.auto_now_add = False  # type: ignore[attr-defined]
    try:
        yield
    finally:
        for field in own:
            field.auto_now_add = True  # type: ignore[attr-defined]
        for field in own_each_time:
            field.auto_now = True  # type: ignore[attr-defined]


def set_sequences(registry: Any) -> None:
    """Have the next keys begin after the highest ones, where the database counts by itself."""
    from django.core.management.color import no_style

    connection = connections["default"]
    with connection.cursor() as cursor:
        for sql in connection.ops.sequence_reset_sql(no_style(), stored_models(registry)):
            cursor.execute(sql)
