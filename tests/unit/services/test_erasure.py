"""A customer is erased: no row and no paper of theirs names them; others stay; who may not is refused."""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from django.apps import apps
from django.urls import reverse

from checklists.models import JobSheet, SignOff, StepEvent
from checklists.office.erasure import ErasureRefused, customer_erase, without
from common.guard import door_opened
from jobs.models import Customer, GuestLink, Job, LogEntry, OutboxMail, Quote, Vehicle
from jobs.shop.outbox import mail_put
from tests.unit.services.world import NOW, REASON, rows_of_shop

PERSON = {
    "name": "Zebedee Quillfeather", "phone": "+1 555 0142", "email": "zeb@quillfeather.example",
    "address": "77 Heron Ford Lane\nMill Fork, CO", "notes": "Bad knee",
}  # fmt: skip
VEHICLE = {"vin": "1ZQTEST0000098765", "plate": "ZQ-4417"}
NAMED = ("Quillfeather", "555 0142", "Heron Ford", "Bad knee", "1ZQTEST", "098765", "ZQ-4417", "Zebedee")


@pytest.fixture
def customer(world):
    """Return the customer of a job with events, photos, sheets and signatures, named in every corner."""
    job = world.neighbour.job
    Customer.objects.filter(pk=job.vehicle.customer_id).update(**PERSON)
    Vehicle.objects.filter(pk=job.vehicle_id).update(**VEHICLE)
    found = Customer.objects.select_related("shop").get(pk=job.vehicle.customer_id)
    Job.objects.filter(pk=job.pk).update(
        title="Solar for Zebedee Quillfeather", state="in_care", asked_for="Nap"
    )
    for quote in Quote.objects.filter(job=job):
        told = {**(quote.snapshot or {}), "customer": PERSON["name"], "vehicle": {"plate": "ZQ-4417"}}
        Quote.objects.filter(pk=quote.pk).update(accepted_by_name=PERSON["name"], snapshot=told)
    sheet = JobSheet.objects.filter(checklist__job=job).first()
    signed = [{"name": PERSON["name"], "svg": "<svg>his</svg>"}, {"name": "Bob", "svg": "<svg>bob</svg>"}]
    snapshot = {"content": {"head": {"customer": {"name": PERSON["name"]}}}, "signatures": signed}
    JobSheet.objects.filter(pk=sheet.pk).update(snapshot=snapshot, state="ready", file="sheets/gone.pdf")
    event = StepEvent.objects.filter(checklist__job=job).first()
    with door_opened():
        StepEvent.objects.filter(pk=event.pk).update(cause="zebedee quillfeather said so, call +1 555 0142")
    signature = {"printed_name": PERSON["name"], "signature_svg": "<svg/>", "shown": PERSON["name"]}
    row = SignOff.objects.filter(checklist__job=job).first()
    SignOff.objects.filter(pk=row.pk).update(part="customer", content_sha256="e" * 64, **signature)
    LogEntry.objects.create(shop=job.shop, job=job, actor_name=PERSON["name"], verb="quote accepted", at=NOW)
    LogEntry.objects.create(shop=job.shop, verb="customer added", detail=PERSON["name"], at=NOW)
    mail_put(to=PERSON["email"], subject="Your quote", body="Dear Zebedee", at=NOW, shop=job.shop, job=job)
    return found


def naming(shop) -> list[str]:
    """Return every row of a shop in which something of the person stands."""
    found = []
    for model in apps.get_models():
        path = getattr(model, "shop_path", None)
        if path:
            for row in model._base_manager.filter(**{path: shop.pk}).values():
                text = str(row).casefold()
                found += [f"{model._meta.label} {row['id']}: {w}" for w in NAMED if w.casefold() in text]
    return found


def test_nothing_names_the_person_any_more(world, customer):
    assert len(naming(customer.shop)) > 15
    customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)
    assert naming(customer.shop) == []
    assert not OutboxMail.objects.filter(shop=customer.shop).exists()
    assert not GuestLink.objects.filter(job=world.neighbour.job, revoked_at=None).exists()
    entry = LogEntry.objects.get(verb="customer erased")
    assert (entry.detail, entry.reason, entry.at) == ("Person erased 2026-11-25", REASON, NOW)


def test_issued_papers_stay_and_say_when_the_person_went(world, customer):
    count = (
        JobSheet.objects.count(),
        Quote.objects.count(),
        SignOff.objects.count(),
        StepEvent.objects.count(),
    )
    customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)
    assert count == (
        JobSheet.objects.count(), Quote.objects.count(), SignOff.objects.count(), StepEvent.objects.count()
    )  # fmt: skip
    sheet = JobSheet.objects.filter(checklist__job=world.neighbour.job).first()
    assert sheet.snapshot["content"]["head"]["customer"] == {"name": "Person erased 2026-11-25"}
    assert sheet.snapshot["signatures"] == [
        {"name": "Person erased 2026-11-25", "svg": ""}, {"name": "Bob", "svg": "<svg>bob</svg>"}
    ]  # fmt: skip
    assert (sheet.state, sheet.file.name) == ("waiting", "")  # printed anew
    assert Quote.objects.filter(job=world.neighbour.job, accepted_by_name="Person erased 2026-11-25").exists()


def test_another_customer_and_another_shop_stay_as_they_are(world, customer):
    before = rows_of_shop(world.late.shop)
    mine = Customer.objects.exclude(pk=customer.pk).order_by("pk")
    others = list(mine.values())
    customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)
    assert rows_of_shop(world.late.shop) == before
    assert list(mine.values()) == others


@pytest.mark.parametrize(("reason", "words"), [("", "Say why"), ("short", "Say why")])
def test_a_reason_is_asked(world, customer, reason, words):
    with pytest.raises(ErasureRefused, match=words):
        customer_erase(customer=customer, reason=reason, actor=world.people["owner"], at=NOW)


def test_not_while_a_job_is_open_and_not_twice(world, customer):
    job = Job.objects.filter(pk=world.neighbour.job.pk)
    job.update(state="in_work")
    with pytest.raises(ErasureRefused, match="still open"):
        customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)
    job.update(state="cancelled")
    customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)
    with pytest.raises(ErasureRefused, match="already"):
        customer_erase(customer=customer, reason=REASON, actor=world.people["owner"], at=NOW)


def test_words_inside_other_words_stay():
    import re

    words = re.compile(r"(?<!\w)Nell(?!\w)")
    assert without({"a": ["Nell", "Nellie", 3]}, words, "M") == {"a": ["M", "Nellie", 3]}


def page(name, customer) -> str:
    """Return a path of the customer's data."""
    return reverse(f"checklists:{name}", args=[customer.pk])


def test_the_owner_hands_out_what_is_kept(world, customer, client_of):
    answer = client_of(world.people["owner"]).post(page("customer_data_file", customer))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        told = json.loads(archive.read("data.json"))
        names = archive.namelist()
    assert told["customer"][0]["email"] == PERSON["email"]
    assert told["vehicles"][0]["vin"] == VEHICLE["vin"]
    assert told["quotes"][0]["as_sent"]["customer"] == PERSON["name"]
    assert any(name.startswith("photos/") for name in names)
    assert "labour_cost" not in str(told)  # what things cost the shop
    assert LogEntry.objects.filter(verb="customer data given out").count() == 1


def test_the_page_erases_with_reason_and_tick_only(world, customer, client_of):
    client = client_of(world.people["owner"])
    assert "cannot be taken back" in client.get(page("customer_data", customer)).content.decode()
    assert client.post(page("customer_erasure", customer), {"reason": REASON}).status_code == 422
    answer = client.post(page("customer_erasure", customer), {"reason": REASON, "sure": "on"}, follow=True)
    assert "Person erased 2" in answer.content.decode()
    assert "was erased" in client.get(page("customer_data", customer)).content.decode()


def test_an_open_job_is_named_on_the_page(world, customer, client_of):
    Job.objects.filter(pk=world.neighbour.job.pk).update(state="in_work")
    text = client_of(world.people["owner"]).get(page("customer_data", customer)).content.decode()
    assert "Not while a job is open" in text
    assert "I know that" not in text


@pytest.mark.parametrize(("who", "status"), [("estimator", 403), ("bookkeeper", 403), ("stranger", 404)])
def test_others_get_nothing(world, customer, client_of, who, status):
    client = client_of(world.people[who])
    assert client.get(page("customer_data", customer)).status_code == status
    for name in ("customer_data_file", "customer_erasure"):
        assert client.post(page(name, customer), {"reason": REASON, "sure": "on"}).status_code == status
    assert naming(customer.shop)
