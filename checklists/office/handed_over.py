"""Gathers what a shop keeps about one customer, for the customer to have: data and papers in one archive."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.files.storage import default_storage
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction

from checklists.models import JobSheet, Photo, SignOff
from common.told import in_english
from jobs.models import ChangeOrder, Customer, Job, OutboxMail, Quote, Survey
from jobs.shop.log import log
from jobs.shop.rights import require


@in_english
@transaction.atomic
def customer_data(*, customer: Customer, actor: User, at: datetime) -> bytes:
    """Return an archive of everything kept about a customer; costs and margins are the shop's and not in it.

    Raise NotAllowed for anybody but the owner. That it was given out stands in the log.
    """
    require(actor, customer.shop, "is_owner")
    jobs = Job.objects.filter(vehicle__customer=customer)
    told = {
        "customer": _rows(Customer.objects.filter(pk=customer.pk)),
        "vehicles": _rows(customer.vehicles.all()),
        "jobs": _rows(jobs),
        "surveys": _rows(Survey.objects.filter(job__in=jobs)),
        "quotes": [
            {
                "number": one.number,
                "sent_at": one.sent_at,
                "answered_at": one.answered_at,
                "as_sent": one.snapshot,
            }
            for one in Quote.objects.filter(job__in=jobs).filter(snapshot__isnull=False)
        ],
        "change_orders": [
            {"number": one.number, "answered_at": one.answered_at, "as_sent": one.snapshot}
            for one in ChangeOrder.objects.filter(job__in=jobs).filter(snapshot__isnull=False)
        ],
        "signatures": _rows(SignOff.objects.filter(checklist__job__in=jobs, part=SignOff.Part.CUSTOMER)),
        "letters": list(OutboxMail.objects.filter(job__in=jobs).values("about", "to", "at", "state")),
    }
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("data.json", json.dumps(told, cls=DjangoJSONEncoder, indent=1, ensure_ascii=False))
        for name, stored in _papers(jobs):
            _add(archive, name, stored)
    log(shop=customer.shop, actor=actor, verb="customer data given out", detail=customer.name, at=at)
    return written.getvalue()


def _rows(rows: models.QuerySet[Any]) -> list[dict[str, Any]]:
    return list(rows.values(*(field.attname for field in rows.model._meta.concrete_fields)))


def _papers(jobs: models.QuerySet[Job]) -> list[tuple[str, str]]:
    """Return the files of a customer's jobs: what each is called in the archive, and where it lies."""
    sheets = JobSheet.objects.filter(checklist__job__in=jobs).exclude(file="")
    photos = Photo.objects.filter(checklist__job__in=jobs)
    found = [
        (f"papers/{one.checklist.job.number}-sheet-{one.number}.pdf", str(one.file.name))
        for one in sheets.select_related("checklist__job")
    ]
    return found + [(f"photos/{one.pk}.jpg", str(one.file.name)) for one in photos]


def _add(archive: zipfile.ZipFile, name: str, stored: str) -> None:
    """Put a file in; one whose bytes are gone is left out."""
    try:
        with default_storage.open(stored) as source:
            archive.writestr(name, source.read())
    except FileNotFoundError:
        return
