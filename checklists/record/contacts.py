"""Knows whom a technician may have to call on a job: help first, then the shop, the customer, the makers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from common import units as trade
from jobs.models import Design, Job, Membership, Part, Shop

#: The emergency number of a shop's country, as far as its units tell it: 911 in the US and Canada (47 CFR
#: 9.4), 112 in Europe and from most cell phones elsewhere (ETSI TS 122 101, 10.1).
_EMERGENCY: Final = {trade.IMPERIAL: "911", trade.METRIC: "112"}
_R: Final = Membership.Role
#: Who can decide comes first.
_ORDER: Final = (_R.OWNER, _R.ESTIMATOR, _R.LEAD_TECHNICIAN, _R.TECHNICIAN, _R.BOOKKEEPER)


def emergency_number(shop: Shop) -> str:
    """Return the number to call first when somebody is hurt or something burns."""
    return _EMERGENCY[shop.units]


def contacts(job: Job, design: Design) -> list[dict[str, str]]:
    """Return the people and the support lines of a job, in the order in which they are asked."""
    return [*_people(job), _shop(job.shop), _customer(job), *_makers(design)]


def people_of(shop: Shop) -> list[dict[str, Any]]:
    """Return the people whose clocks a tablet may start."""
    rows = Membership.objects.of_shop(shop).filter(is_active=True).select_related("user").order_by("pk")
    return [
        {"id": row.user_id, "name": row.user.get_full_name() or row.user.username}
        for row in rows
        if row.may_install
    ]


def _people(job: Job) -> Iterator[dict[str, str]]:
    rows = Membership.objects.of_shop(job.shop).filter(is_active=True).select_related("user")
    on_job = set(job.assigned_to.values_list("pk", flat=True))

    def place(row: Membership) -> tuple[int, bool, int]:
        return _ORDER.index(_R(row.role)), row.user_id not in on_job, row.pk

    for row in sorted(rows, key=place):
        part = row.get_role_display() + (", on this job" if row.user_id in on_job else "")
        who = row.user.get_full_name() or row.user.username
        yield _row("people", who, part, phone=row.phone, email=row.user.email)


def _shop(shop: Shop) -> dict[str, str]:
    return _row("shop", shop.name, "Shop", phone=shop.phone, email=shop.email, address=shop.address)


def _customer(job: Job) -> dict[str, str]:
    one = job.vehicle.customer
    return _row("customer", one.name, "Customer", phone=one.phone, email=one.email, address=one.address)


def _makers(design: Design) -> Iterator[dict[str, str]]:
    """Yield the support line of each part of the design that has one."""
    for part in parts_of(design):
        if part.support_phone:
            words = f"{part.get_kind_display()}, maker's support line"
            yield _row("makers", part.name, words, phone=part.support_phone)


def parts_of(design: Design) -> list[Part]:
    """Return the parts a design names, each once: panels, controllers, battery, inverter, chargers."""
    found = [panel.part for panel in design.panels.select_related("part")]
    found += [unit.part for unit in design.controllers.select_related("part")]
    for name in ("bank", "inverter"):
        own = getattr(design, name, None)
        found += [own.part] if own is not None else []
    found += [one.part for one in design.sources.select_related("part") if one.part is not None]
    return list({part.pk: part for part in found}.values())


def _row(group: str, who: str, part: str, **ways: Any) -> dict[str, str]:
    return {"group": group, "who": who, "part": part, "phone": "", "email": "", "address": ""} | ways
