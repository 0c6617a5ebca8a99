"""Knows how to do something slow to the records once and to put its outcome back afterwards.

Many tests begin with the same accepted job or the same finished record. What was done the first time is kept
as rows and files; it is put back only where every record before it is the same, so nothing can go stale.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import models, transaction

Rows = dict[type[models.Model], dict[Any, tuple[Any, ...]]]


@dataclass(frozen=True)
class Outcome:
    """What changed: rows as they are afterwards, keys of rows that are gone, files that were made."""

    rows: Rows
    gone: dict[type[models.Model], list[Any]]
    files: dict[str, bytes]


_KEPT: dict[str, Outcome] = {}


def replayed(name: str, build: Callable[[], Any]) -> None:
    """Call ``build``, or put back what it did to equal records; ``name`` tells one build from another."""
    before, files = _rows(), set(_files())
    key = f"{name} {_digest(before)} {sorted(files)}"
    if key in _KEPT:
        _put(_KEPT[key])
        return
    build()
    made = {path: (Path(settings.MEDIA_ROOT) / path).read_bytes() for path in set(_files()) - files}
    _KEPT[key] = _outcome(before, _rows(), made)


def _models() -> list[type[models.Model]]:
    return [*apps.get_app_config("jobs").get_models(), *apps.get_app_config("checklists").get_models()]


def _names(model: type[models.Model]) -> list[str]:
    """Return the fields compared and kept: all but those the clock fills in when a row is made."""
    fields = model._meta.concrete_fields
    return [field.attname for field in fields if not getattr(field, "auto_now_add", False)]


def _rows() -> Rows:
    return {
        model: {row[0]: row[1:] for row in model._base_manager.values_list("pk", *_names(model))}
        for model in _models()
    }


def _digest(rows: Rows) -> str:
    people = apps.get_model("auth.User").objects.order_by("pk").values_list("pk", "username")
    tables = [(model.__name__, sorted(table.items(), key=repr)) for model, table in rows.items()]
    return hashlib.sha256(repr([list(people), tables]).encode()).hexdigest()


def _files() -> Iterator[str]:
    root = Path(settings.MEDIA_ROOT)
    return (str(path.relative_to(root)) for path in root.rglob("*") if path.is_file())


def _outcome(before: Rows, after: Rows, files: dict[str, bytes]) -> Outcome:
    changed = {
        model: {pk: row for pk, row in table.items() if before[model].get(pk) != row}
        for model, table in after.items()
    }
    gone = {model: [pk for pk in before[model] if pk not in table] for model, table in after.items()}
    return Outcome(changed, gone, files)


def _put(outcome: Outcome) -> None:
    with transaction.atomic():  # rows name one another: the keys are looked at when all are there
        for model, table in outcome.rows.items():
            _put_rows(model, table)
        for model, keys in outcome.gone.items():
            model._base_manager.filter(pk__in=keys).delete()
    for path, data in outcome.files.items():
        place = Path(settings.MEDIA_ROOT) / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)


def _put_rows(model: type[models.Model], table: dict[Any, tuple[Any, ...]]) -> None:
    have = set(model._base_manager.filter(pk__in=list(table)).values_list("pk", flat=True))
    values = {pk: dict(zip(_names(model), row, strict=True)) for pk, row in table.items()}
    model._base_manager.bulk_create([model(**values[pk]) for pk in table if pk not in have])
    for pk in have:
        model._base_manager.filter(pk=pk).update(**values[pk])
