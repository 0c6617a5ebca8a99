"""How a call becomes a customer, a vehicle and a job in one act."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.customers.customer import customer_save, vehicle_save
from jobs.customers.job import job_create
from jobs.models import Customer, Job, Vehicle
from jobs.shop.rights import require


@in_english
@transaction.atomic
def job_intake(*, job: Job, vehicle: Vehicle, customer: Customer, actor: User, at: datetime) -> Job:
    """Open a job, writing its vehicle and customer first when they are new; all of it or nothing."""
    require(actor, customer.shop, "may_design")
    if customer.pk is None:
        customer_save(customer=customer, actor=actor, at=at)
    if vehicle.pk is None:
        vehicle.customer, vehicle.shop = customer, customer.shop
        vehicle_save(vehicle=vehicle, actor=actor, at=at)
    opened = job_create(
        shop=customer.shop, vehicle=vehicle, title=job.title, asked_for=job.asked_for, actor=actor, at=at
    )
    opened.work_place, opened.promised_date = job.work_place, job.promised_date
    opened.save(update_fields=["work_place", "promised_date"])
    return opened
