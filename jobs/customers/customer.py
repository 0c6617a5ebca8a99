"""How a customer and a vehicle are written down."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Customer, Shop, Vehicle
from jobs.shop.log import log
from jobs.shop.rights import require


@in_english
@transaction.atomic
def customer_save(*, customer: Customer, actor: User, at: datetime) -> Customer:
    """Write a new or changed customer."""
    require(actor, customer.shop, "may_design")
    verb = "customer changed" if customer.pk else "customer added"
    customer.full_clean()
    customer.save()
    log(shop=customer.shop, actor=actor, verb=verb, detail=customer.name, at=at)
    return customer


@in_english
@transaction.atomic
def vehicle_save(*, vehicle: Vehicle, actor: User, at: datetime) -> Vehicle:
    """Write a new or changed vehicle; its customer must be of the same shop."""
    require(actor, vehicle.shop, "may_design")
    if vehicle.customer.shop_id != vehicle.shop_id:
        raise ValueError("a vehicle and its customer belong to one shop")
    verb = "vehicle changed" if vehicle.pk else "vehicle added"
    vehicle.full_clean()
    vehicle.save()
    log(shop=vehicle.shop, actor=actor, verb=verb, detail=str(vehicle), at=at)
    return vehicle


@in_english
@transaction.atomic
def customers_import(
    *, shop: Shop, customers: Sequence[Customer], vehicles: Sequence[Vehicle], actor: User, at: datetime
) -> int:
    """Write the customers and vehicles of a table, all or none; return how many records."""
    require(actor, shop, "may_design")
    shops = {one.shop_id for one in customers} | {one.shop_id for one in vehicles}
    if shops - {shop.pk}:
        raise ValueError("the customers and vehicles of a table belong to one shop")
    for customer in customers:
        customer_save(customer=customer, actor=actor, at=at)
    for vehicle in vehicles:
        vehicle.customer = vehicle.customer  # by now it may have its key
        vehicle_save(vehicle=vehicle, actor=actor, at=at)
    detail = f"{len(customers)} customers, {len(vehicles)} vehicles"
    log(shop=shop, actor=actor, verb="customers imported", detail=detail, at=at)
    return len(customers) + len(vehicles)
