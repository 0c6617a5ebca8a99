"""The triggers of every table, as SQL of SQLite and PostgreSQL.

Three kinds: rows that are only ever added to; a row's shop, which never changes; and a row that names a row
of another shop. The last two follow from the models, so a new table has them with its first migration.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps
from django.db import models

from common.guard import EVERY_SHOP, POSTGRES_DOOR, POSTGRES_SHOP, SQLITE_DOOR
from jobs.models import ShopOwned

PREFIX: Final = "guard_"
#: Only ever added to.
ADDED_TO: Final = ("jobs.LogEntry", "checklists.StepEvent", "jobs.Invoice", "jobs.Payment")


@dataclass(frozen=True)
class Trigger:
    """One trigger: when it looks, at which columns, what it refuses and with which sentence.

    ``changed`` is a column that must have changed; ``refused`` is SQL over NEW that is true of a bad row.
    """

    table: str
    event: str
    sentence: str
    changed: str = ""
    refused: str = ""
    needs: tuple[tuple[str, str], ...] = ()
    has_door: bool = True
    key: str = ""

    @property
    def name(self) -> str:
        """Return a name that differs as soon as the trigger does."""
        return f"{PREFIX}{self.table[:40]}_{hashlib.sha256(repr(self).encode()).hexdigest()[:10]}"


def triggers() -> list[Trigger]:
    """Return the triggers that today's models ask for."""
    found = [one for label in ADDED_TO for one in _only_added_to(apps.get_model(label))]
    for model in apps.get_models():
        if issubclass(model, ShopOwned) and model._meta.managed:
            found += [*_shop_stays(model), *_one_shop(model)]
    return found


def _only_added_to(model: type[models.Model]) -> Iterator[Trigger]:
    table = model._meta.db_table
    for event in ("UPDATE", "DELETE", "TRUNCATE"):
        yield Trigger(table, event, f"{model._meta.verbose_name_plural} are never changed, only added to")
    if isinstance(model._meta.pk, models.AutoField):  # INSERT OR REPLACE is a change by another name
        taken = f"EXISTS (SELECT 1 FROM {table} kept WHERE kept.id = NEW.id)"  # noqa: S608 - our names
        yield Trigger(table, "INSERT", "a line of the log has this number already", refused=taken)


def _shop_stays(model: type[models.Model]) -> Iterator[Trigger]:
    if model.shop_path == "shop":  # type: ignore[attr-defined]  # a ShopOwned
        yield Trigger(model._meta.db_table, "UPDATE", "a row stays in its shop", changed="shop_id")


def _one_shop(model: type[models.Model]) -> Iterator[Trigger]:
    """Yield, for every key to another row of a shop, the trigger that compares both shops."""
    own_path = model.shop_path  # type: ignore[attr-defined]  # a ShopOwned
    own, needs = _shop_of(model, own_path)
    table = model._meta.db_table
    for field in _keys(model):
        if field.name == own_path.split("__")[0]:
            continue
        theirs, also = _shop_of(field.related_model, field.related_model.shop_path, f"NEW.{field.column}")
        for event, changed in (("INSERT", ""), ("UPDATE", field.column)):
            sentence = f"{field.name} belongs to another shop"
            yield Trigger(
                table, event, sentence, changed, f"{theirs} <> {own}", (*needs, *also, (table, field.column)),
                has_door=False, key=f"NEW.{field.column}",
            )  # fmt: skip


def _keys(model: type[models.Model]) -> Iterator[Any]:
    for field in model._meta.concrete_fields:
        target = field.related_model
        if (
            isinstance(field, models.ForeignKey)
            and isinstance(target, type)
            and issubclass(target, ShopOwned)
        ):
            yield field


def _shop_of(model: Any, path: str, key: str = "") -> tuple[str, tuple[tuple[str, str], ...]]:
    """Return SQL for the shop of a row (NEW itself, or the one a key names), and the columns it reads."""
    first, _, rest = path.partition("__")
    field = model._meta.pk if first == "pk" else model._meta.get_field(first)
    needs = ((model._meta.db_table, field.column),)
    here = f"NEW.{field.column}"
    if key:
        table, pk = model._meta.db_table, model._meta.pk.column
        here = f"(SELECT one.{field.column} FROM {table} one WHERE one.{pk} = {key})"  # noqa: S608 - our names
    if not rest or rest == "pk":
        return here, needs
    deeper, also = _shop_of(field.related_model, rest, here)
    return deeper, needs + also


def sqlite_sql(one: Trigger) -> list[str]:
    """Return the statements that make a trigger on SQLite."""
    if one.event == "TRUNCATE":  # there is none: it is a DELETE
        return []
    conditions = [f"{SQLITE_DOOR}() = 0"] if one.has_door else []
    if one.changed:
        conditions.append(f"NEW.{one.changed} IS NOT OLD.{one.changed}")
    if one.refused:
        conditions.append(one.refused)
    event = f"UPDATE OF {one.changed}" if one.changed else one.event
    return [
        f"CREATE TRIGGER {one.name} BEFORE {event} ON {one.table} WHEN {' AND '.join(conditions)}"
        f" BEGIN SELECT RAISE(ABORT, '{one.sentence}'); END"
    ]


def _or_unseen(one: Trigger) -> str:
    """Return the condition; a row that row-level security hides from the trigger is another shop's too."""
    theirs, apart, _ = one.refused.partition(" <> ")
    if not apart:
        return one.refused
    is_narrow = f"coalesce(current_setting('{POSTGRES_SHOP}', true), '') <> '{EVERY_SHOP}'"
    return f"{one.refused} OR ({is_narrow} AND {one.key} IS NOT NULL AND {theirs} IS NULL)"


def postgres_sql(one: Trigger) -> list[str]:
    """Return the statements that make a trigger on PostgreSQL, with the function it calls."""
    conditions = []
    if one.has_door:
        conditions.append(f"coalesce(current_setting('{POSTGRES_DOOR}', true), '') <> 'open'")
    if one.refused:
        conditions.append(f"({_or_unseen(one)})")
    only = f" WHEN (NEW.{one.changed} IS DISTINCT FROM OLD.{one.changed})" if one.changed else ""
    event = f"UPDATE OF {one.changed}" if one.changed else one.event
    row = "STATEMENT" if one.event == "TRUNCATE" else "ROW"
    back = {"DELETE": "OLD", "TRUNCATE": "NULL"}.get(one.event, "NEW")
    return [
        f"CREATE OR REPLACE FUNCTION {one.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        f" IF {' AND '.join(conditions)} THEN RAISE EXCEPTION '{one.sentence}'"
        f" USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN {back}; END $$",
        f"CREATE TRIGGER {one.name} BEFORE {event} ON {one.table} FOR EACH {row}{only}"
        f" EXECUTE FUNCTION {one.name}()",
    ]
