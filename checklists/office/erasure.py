"""Erases a customer as law asks: the person goes, the work and its issued papers stay without them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from functools import partial
from typing import Any, Final

from django.apps import apps
from django.contrib.auth.models import User
from django.core.files.storage import default_storage
from django.db import models, transaction

from checklists.models import JobSheet, KeptEvents, Photo, SignOff, SumsTable
from checklists.record.override import REASON_LENGTH
from checklists.sheet.print import sheet_queue
from common.guard import door_opened
from common.told import in_english
from jobs.models import (
    ChangeOrder,
    Customer,
    GuestLink,
    Invoice,
    Job,
    LogEntry,
    OutboxMail,
    Payment,
    Quote,
    ShopOwned,
    Survey,
    Vehicle,
)
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: Stands wherever the person's name stood.
MARK: Final = "Person erased"
#: Shorter words than this are not looked for: they are part of others.
_SHORTEST: Final = 4
#: Free words about a person, emptied whole.
_EMPTIED: Final[tuple[tuple[type[models.Model], tuple[str, ...]], ...]] = (
    (Job, ("asked_for", "work_place")),
    (Survey, ("household", "medical_need", "notes", "site_rules", "site_wires")),
    (Quote, ("signature_svg", "answer_note", "tax_exempt_text")),
    (ChangeOrder, ("signature_svg", "answer_note")),
)
#: The same inside what was issued.
_EMPTIED_INSIDE: Final = {"asked_for", "household", "medical_need", "work_place", "plate", "vin"}


class ErasureRefused(Refusal):
    """The customer cannot be erased yet, or was already."""


def is_erased(customer: Customer) -> bool:
    """Return whether the person behind a customer was erased."""
    return customer.name.startswith(MARK)


def open_jobs(customer: Customer) -> list[Job]:
    """Return the jobs that keep a customer from being erased."""
    return [job for job in Job.objects.filter(vehicle__customer=customer) if job.is_open]


@in_english
@transaction.atomic
def customer_erase(*, customer: Customer, reason: str, actor: User, at: datetime) -> Customer:
    """Erase the person: customer, vehicle's marks, letters, links, signatures, names in every record.

    Papers that were issued stay, saying when the person was erased instead of who it was; sheets are
    printed anew. Raise NotAllowed for anybody but the owner, ErasureRefused without a reason, for a customer
    with an open job and for one erased before.
    """
    require(actor, customer.shop, "is_owner")
    locked = Customer.objects.select_for_update(of=("self",)).select_related("shop").get(pk=customer.pk)
    if is_erased(locked):
        raise ErasureRefused("This customer was erased already.")
    if len(reason.strip()) < REASON_LENGTH:
        raise ErasureRefused(f"Say why, in at least {REASON_LENGTH} characters: it stays in the log.")
    if still := open_jobs(locked):
        numbers = ", ".join(job.number for job in still)
        raise ErasureRefused(f"Close or cancel first what is still open: {numbers}.")
    mark = f"{MARK} {at:%Y-%m-%d}"
    jobs = list(Job.objects.filter(vehicle__customer=locked).values_list("pk", flat=True))
    words = _words(locked)
    _letters_and_links(locked, jobs, at)
    _papers(jobs, mark)
    with door_opened():  # the log and the events too
        for model, path in _of_jobs():
            _scrub(model._base_manager.filter(**{f"{path}__in": jobs}), words, mark)
        lines = LogEntry.objects.filter(shop=locked.shop, job=None, detail__icontains=locked.name)
        _scrub(lines, words, mark)
    _the_person(locked, mark)
    _sheets_anew(jobs, at)
    log(shop=locked.shop, actor=actor, verb="customer erased", detail=mark, reason=reason.strip(), at=at)
    return locked


def _words(customer: Customer) -> re.Pattern[str]:
    """Return a pattern of everything that names the person, the longest first."""
    found = {customer.name, customer.email, customer.phone, customer.address}
    found |= {line.strip() for line in customer.address.splitlines()}
    for vehicle in customer.vehicles.all():
        found |= {vehicle.vin, vehicle.plate, vehicle.vin_tail}
    told = sorted((one for one in found if len(one) >= _SHORTEST), key=len, reverse=True)
    return re.compile("|".join(rf"(?<!\w){re.escape(one)}(?!\w)" for one in told), re.IGNORECASE)


def _of_jobs() -> Iterator[tuple[type[models.Model], str]]:
    """Yield every model whose rows belong to jobs, with the lookup that leads to the job."""
    for model in apps.get_models():
        path = getattr(model, "shop_path", "")
        if model is Job:
            yield model, "pk"
        elif issubclass(model, ShopOwned) and path.endswith("job__shop"):
            yield model, path.removesuffix("__shop")
    for of_job in (LogEntry, Invoice, Payment):
        yield of_job, "job"
    yield apps.get_model("checklists.HeldBatch"), "checklist__job"


def _scrub(rows: models.QuerySet[Any], words: re.Pattern[str], mark: str) -> None:
    """Put the mark in place of the person's words in every text of these rows."""
    columns = [
        field
        for field in rows.model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField | models.JSONField)
        and not isinstance(field, models.FileField)
        and not field.choices
    ]
    for row in rows.iterator():
        new: dict[str, Any] = {}
        for field in columns:
            old = getattr(row, field.attname)
            said = without(old, words, mark)
            if said != old:
                new[field.attname] = said[: field.max_length] if isinstance(said, str) else said
        if new:
            rows.model._base_manager.filter(pk=row.pk).update(**new)


def without(value: Any, words: re.Pattern[str], mark: str) -> Any:
    """Return a stored value with the mark for the person, their signature and what they told left out."""
    if isinstance(value, str):
        return words.sub(mark, value)
    if isinstance(value, list):
        return [without(one, words, mark) for one in value]
    if isinstance(value, dict):
        is_signed = isinstance(value.get("svg"), str) and bool(words.search(str(value.get("name", ""))))
        return {
            key: ""
            if (is_signed and key == "svg") or (key in _EMPTIED_INSIDE and isinstance(one, str))
            else without(one, words, mark)
            for key, one in value.items()
        }
    return value


def _letters_and_links(customer: Customer, jobs: list[int], at: datetime) -> None:
    OutboxMail.objects.filter(job__in=jobs).delete()
    if customer.email:
        OutboxMail.objects.filter(shop=customer.shop, to__iexact=customer.email).delete()
    GuestLink.objects.filter(job__in=jobs, revoked_at=None).update(revoked_at=at)


def _papers(jobs: list[int], mark: str) -> None:
    """Empty what the person wrote and signed."""
    for model, names in _EMPTIED:
        path = "pk__in" if model is Job else "job__in"
        model._base_manager.filter(**{path: jobs}).update(**dict.fromkeys(names, ""))
    Quote.objects.filter(job__in=jobs).exclude(accepted_by_name="").update(accepted_by_name=mark)
    orders = ChangeOrder.objects.filter(job__in=jobs).exclude(answered_by_name="")
    orders.update(answered_by_name=mark)
    signed = SignOff.objects.filter(checklist__job__in=jobs, part=SignOff.Part.CUSTOMER)
    signed.update(printed_name=mark, signature_svg="", shown="")
    Photo.objects.filter(checklist__job__in=jobs).update(latitude_deg=None, longitude_deg=None)
    KeptEvents.objects.filter(checklist__job__in=jobs).delete()  # worked out again from the events
    SumsTable.objects.filter(checklist__job__in=jobs).delete()


def _the_person(customer: Customer, mark: str) -> None:
    Vehicle.objects.filter(customer=customer).update(vin="", plate="")
    customer.name, customer.phone, customer.email = f"{mark}, no. {customer.pk}", "", ""
    customer.address = customer.notes = ""
    customer.save()


def _sheets_anew(jobs: list[int], at: datetime) -> None:
    """Have issued sheets printed again without the person; the papers with the name go."""
    for sheet in JobSheet.objects.filter(checklist__job__in=jobs):
        if sheet.file:
            transaction.on_commit(partial(default_storage.delete, str(sheet.file.name)))
        sheet.file, sheet.file_sha256, sheet.error = "", "", ""
        sheet.state, sheet.attempts, sheet.touched_at = JobSheet.State.WAITING, 0, at
        sheet.save(update_fields=["file", "file_sha256", "error", "state", "attempts", "touched_at"])
        sheet_queue(sheet)
