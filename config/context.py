"""Gives every page the shop, the person's membership and the main menu."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from config.demo.tasks import try_this
from config.health.number import REQUEST_ID
from config.version import VERSION


@dataclass(frozen=True)
class NavEntry:
    """One word of the main menu."""

    label: str
    url: str
    icon: str
    is_current: bool


def shop(request: HttpRequest) -> dict[str, object]:
    """Return the shop and membership of the request, and the main menu."""
    membership = getattr(request, "membership", None)
    return {
        "shop": getattr(request, "shop", None),
        "membership": membership,
        "main_nav": _main_nav(request, membership) if membership else [],
        "watch_csp": settings.WATCH_CSP,
        "version": VERSION,
        "is_demo": settings.IS_DEMO,
        "try_this": partial(try_this, request),
        "request_id": REQUEST_ID.get(),
    }


# Where else a room's word stays marked.
_ALSO: dict[str, tuple[str, ...]] = {
    "jobs:job_board": ("/jobs/", "/designs/", "/quotes/", "/changes/", "/steps/", "/invoices/", "/payments/"),
    "jobs:customer_list": ("/vehicles/", "/tables/customers/"),
    "jobs:part_list": ("/tables/parts/", "/tables/prices/", "/tables/runs/", "/price-book/"),
}


def _main_nav(request: HttpRequest, membership: Any) -> list[NavEntry]:
    """Return the rooms this person may enter, the current one marked."""
    rooms = [
        ("Jobs", "jobs:job_board", "kanban"),
        ("Schedule", "jobs:week_board", "calendar-event"),
        ("Search", "jobs:job_search", "search"),
        ("Customers", "jobs:customer_list", "people"),
        ("Catalog", "jobs:part_list", "box-seam"),
    ]
    if membership.sees_prices:
        rooms += [("Money", "jobs:money_list", "receipt")]
    if membership.is_owner:
        rooms += [("People", "jobs:member_list", "person-badge"), ("Shop", "jobs:shop_edit", "gear")]
    return [
        NavEntry(label, reverse(name), icon, _is_current(request.path, reverse(name), _ALSO.get(name, ())))
        for label, name, icon in rooms
    ]


def _is_current(path: str, url: str, also: tuple[str, ...]) -> bool:
    """Return whether a path lies in the room at ``url``."""
    in_room = path == url or (url != "/" and path.startswith(url))
    return in_room or path.startswith(also)
