"""A marker written into every text of one shop never turns up in an answer to the people of another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import pytest
from django.apps import apps
from django.db import models
from django.test import Client

from checklists.models import Checklist
from checklists.urls import urlpatterns as checklist_paths
from common.guard import door_opened
from jobs.models import Membership
from jobs.models.scope import ShopOwned
from jobs.urls import urlpatterns as job_paths
from tests.web.common.test_another_shops_address import addresses
from tests.web.common.test_hostile_bodies import bare, entries

pytestmark = pytest.mark.django_db
CANARY: Final = "zz-canary-7f3a"
#: What people type or read; columns of choices, keys and hashes hold nothing of the kind.
TEXTS: Final = {
    "name", "title", "text", "note", "detail", "reason", "plate", "summary", "cause", "asked_for", "address",
    "answer_note", "actor_name", "by_name", "accepted_by_name", "found_by_name", "about", "words",
    "override_reason", "added_by_name", "taken_by_name", "licence_text", "insurance_text", "notes",
}  # fmt: skip
OWN: Final = (
    "/", "/customers/", "/catalogue/", "/people/", "/people/tablets/", "/shop/", "/shop/log.csv",
    "/shop/failures/", "/shop/archives/", "/texts/", "/tablet/jobs/", "/tables/parts/export.csv",
    "/tables/customers/export.csv", "/search/?q=zz-canary", "/?lane=quoted", "/account/sessions/",
    "/schedule/", "/schedule/orders.csv", "/schedule/days/2026-12-08/",
)  # fmt: skip


def text_columns(model: type[models.Model]) -> list[str]:
    return [
        field.attname
        for field in model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField)
        and field.name in TEXTS
        and not field.choices
        and not field.unique
        and (field.max_length or 99) >= len(CANARY)
    ]


def marked() -> int:
    """Write the marker into every text there is; return how many columns hold it."""
    count = 0
    with door_opened():
        for model in apps.get_models():
            if issubclass(model, ShopOwned) or model._meta.label == "jobs.Shop":
                for column in text_columns(model):
                    count += bool(model._base_manager.update(**{column: CANARY}))
    return count


def answers(client: Client, paths: list[str]) -> Iterator[tuple[str, bytes]]:
    for path in paths:
        answer = client.get(path)
        yield path, answer.getvalue() if answer.streaming else answer.content
        answer.close()


@pytest.fixture
def numbers(accepted_quote: Any, alice: Any) -> dict[str, int]:
    """Return the keys of one shop's records by the first word of their address; all its texts are marked."""
    job = accepted_quote.job
    assert marked() > 15
    return {
        "jobs": job.pk, "vehicles": job.vehicle_id, "customers": job.vehicle.customer_id,
        "designs": accepted_quote.design_id, "quotes": accepted_quote.pk,
        "links": job.guest_links.first().pk, "steps": Checklist.objects.get(job=job).steps.first().pk,
        "people": alice.membership.pk, "catalogue": accepted_quote.design.panels.first().part_id,
    }  # fmt: skip


def test_the_marker_is_seen_where_it_belongs(numbers, alice, client_of):
    seen = [path for path, content in answers(client_of(alice), [*OWN, f"/jobs/{numbers['jobs']}/"])
            if CANARY.encode() in content]  # fmt: skip
    assert len(seen) >= 8, seen


def test_nobody_of_another_shop_sees_it(numbers, charlie, client_of):
    Membership.objects.filter(user=charlie).update(role="owner")
    shop = charlie.membership.shop
    type(shop).objects.filter(pk=shop.pk).update(name="Another shop", address="", licence_text="")
    paths = sorted({*OWN, *addresses(numbers, [*job_paths, *checklist_paths]), *bare(job_paths)})
    told = [path for path, content in answers(client_of(charlie), paths) if CANARY.encode() in content]
    assert len(paths) > 80
    assert told == []


def test_nor_does_somebody_who_is_not_signed_in(numbers, accepted_quote, alice):
    accepted_quote.token = "not-a-token"
    paths = entries(accepted_quote, alice)
    assert [path for path, content in answers(Client(), paths) if CANARY.encode() in content] == []
