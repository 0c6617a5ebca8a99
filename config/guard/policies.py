"""Row-level security of PostgreSQL: while a shop is known, rows of others do not exist.

A row is seen when its shop is the one told, or when the row it hangs on is seen. A connection that told
nothing sees nothing; workers and commands say "every" (``common/guard.py``).
"""

from __future__ import annotations

import hashlib
from typing import Any

from django.apps import apps

from common.guard import EVERY_SHOP, POSTGRES_SHOP, ROWS_ROLE
from config.guard.triggers import PREFIX
from jobs.models import ShopOwned

_TOLD = f"(SELECT current_setting('{POSTGRES_SHOP}', true))"
_LISTED = "SELECT policyname, tablename FROM pg_policies WHERE schemaname = current_schema()"


def policies() -> dict[str, tuple[str, str]]:
    """Return table and condition of every policy by its name."""
    found = {}
    for model in apps.get_models():
        if issubclass(model, ShopOwned) and model._meta.managed:
            table, condition = model._meta.db_table, _seen(model)
            digest = hashlib.sha256(condition.encode()).hexdigest()[:10]
            found[f"{PREFIX}{table[:40]}_{digest}"] = (table, condition)
    return found


def _seen(model: Any) -> str:
    first = model.shop_path.partition("__")[0]
    field = model._meta.pk if first == "pk" else model._meta.get_field(first)
    if first in {"pk", "shop"}:
        mine = f"{field.column}::text = {_TOLD}"
    else:
        parent = field.related_model._meta
        key = f"{model._meta.db_table}.{field.column}"
        mine = f"EXISTS (SELECT 1 FROM {parent.db_table} up WHERE up.{parent.pk.column} = {key})"  # noqa: S608
    return f"{_TOLD} = '{EVERY_SHOP}' OR {mine}"


def policies_set(cursor: Any, tables: set[str]) -> None:
    """Make what is missing, drop what is of earlier models; let a superuser's connections be bound too."""
    there, wanted = policies_there(cursor), policies()
    for name in there.keys() - wanted.keys():
        cursor.execute(f"DROP POLICY {name} ON {there[name]}")
    for name, (table, condition) in wanted.items():
        if name not in there and table in tables:
            cursor.execute(f"CREATE POLICY {name} ON {table} USING ({condition})")
            cursor.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            cursor.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
    _role(cursor)


def policies_there(cursor: Any) -> dict[str, str]:
    """Return the table of every policy of ours by its name."""
    cursor.execute(_LISTED)
    return {name: table for name, table in cursor.fetchall() if name.startswith(PREFIX)}


def policies_away(cursor: Any) -> None:
    """Drop every policy of ours, with what it switched on: a migration reads and writes every row."""
    for name, table in policies_there(cursor).items():
        cursor.execute(f"DROP POLICY {name} ON {table}")
        cursor.execute(f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY")
        cursor.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")


def _role(cursor: Any) -> None:
    """Make the role without special rights that a superuser's connection takes."""
    cursor.execute("SELECT rolsuper, current_schema() FROM pg_roles WHERE rolname = current_user")
    is_above, schema = cursor.fetchone()
    if not is_above:
        return
    cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [ROWS_ROLE])
    if cursor.fetchone() is None:
        cursor.execute(f"CREATE ROLE {ROWS_ROLE} NOLOGIN")
    cursor.execute(f"GRANT USAGE ON SCHEMA {schema} TO {ROWS_ROLE}")
    cursor.execute(f"GRANT ALL ON ALL TABLES IN SCHEMA {schema} TO {ROWS_ROLE}")
    cursor.execute(f"GRANT ALL ON ALL SEQUENCES IN SCHEMA {schema} TO {ROWS_ROLE}")
