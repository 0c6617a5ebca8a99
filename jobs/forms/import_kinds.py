"""The kinds of tables that are taken in and handed out: how each is read, stored and written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User

from jobs.customers.customer import customers_import
from jobs.forms.import_customers import FoundCustomers, customer_table, customers_found
from jobs.forms.import_parts import FoundParts, part_table, parts_found
from jobs.forms.import_prices import FoundPrices, price_table, prices_found
from jobs.forms.import_rows import Found, Tell
from jobs.models import Shop
from jobs.parts.catalogue import parts_import, prices_import
from jobs.shop.days import local_date

Rows = list[list[str]]


@dataclass(frozen=True, slots=True)
class Taken:
    """Whose table is taken in, by whom, when, from which file."""

    shop: Shop
    actor: User
    at: datetime
    name: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table: its words, and how it is read, stored and written out; some may be long."""

    title: str
    back: str
    read: Callable[[Shop, Rows, datetime, Tell], Found]
    store: Callable[[Taken, Any], int]
    table: Callable[[Shop, bool, datetime], Rows]
    may_be_long: bool = False


def _parts(taken: Taken, found: FoundParts) -> int:
    return parts_import(shop=taken.shop, rows=found.rows, actor=taken.actor, at=taken.at)


def _prices(taken: Taken, found: FoundPrices) -> int:
    why = f"Price list {taken.name}".strip()
    return prices_import(shop=taken.shop, parts=found.parts, why=why, actor=taken.actor, at=taken.at)


def _customers(taken: Taken, found: FoundCustomers) -> int:
    return customers_import(
        shop=taken.shop,
        customers=found.customers,
        vehicles=found.vehicles,
        actor=taken.actor,
        at=taken.at,
    )


KINDS: Final = {
    "parts": Kind(
        "Import parts", "jobs:part_list", lambda shop, rows, at, tell: parts_found(shop, rows, tell), _parts,
        lambda shop, has_rows, at: part_table(shop, has_rows=has_rows), may_be_long=True,
    ),
    "prices": Kind(
        "Update prices", "jobs:part_list", lambda shop, rows, at, tell: prices_found(shop, rows, tell),
        _prices, lambda shop, has_rows, at: price_table(shop, has_rows=has_rows), may_be_long=True,
    ),
    "customers": Kind(
        "Import customers and vehicles", "jobs:customer_list",
        lambda shop, rows, at, tell: customers_found(shop, rows, local_date(shop, at)), _customers,
        lambda shop, has_rows, at: customer_table(shop, local_date(shop, at), has_rows=has_rows),
    ),
}  # fmt: skip
