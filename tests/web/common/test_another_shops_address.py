"""No address with a number opens what belongs to another shop, not even for that shop's owner."""

from __future__ import annotations

import re

import pytest
from django.urls import URLPattern

from checklists.models import Checklist
from checklists.urls import urlpatterns as checklist_paths
from jobs.urls import urlpatterns as job_paths

pytestmark = pytest.mark.django_db


def addresses(numbers: dict[str, object], paths: list[URLPattern]) -> list[str]:
    """Return the addresses of the first shop's records; the noun an address begins with names the record."""
    found = []
    for path in paths:
        written = str(path.pattern)
        noun = written.split("/")[0]
        if re.search(r"<int:(job_)?pk>", written) and noun in numbers and written.count("<int:") == 1:
            with_number = re.sub(r"<int:\w+>", str(numbers[noun]), written)
            part = "roof" if "survey" in written else "panels"
            found.append("/" + with_number.replace("<slug:part>", part))
    return found


def test_every_address_of_another_shop_is_nothing_here(accepted_quote, alice, charlie, client_of):
    job = accepted_quote.job
    step = Checklist.objects.get(job=job).steps.first()
    numbers = {
        "jobs": job.pk, "vehicles": job.vehicle_id, "customers": job.vehicle.customer_id,
        "designs": accepted_quote.design_id, "quotes": accepted_quote.pk, "steps": step.pk,
        "links": job.guest_links.first().pk, "people": alice.membership.pk,
        "catalogue": accepted_quote.design.panels.first().part_id,
    }  # fmt: skip
    theirs, ours = client_of(charlie), client_of(alice)
    asked = addresses(numbers, [*job_paths, *checklist_paths])
    assert len(asked) > 60
    assert {ours.get(f"/{noun}/{numbers[noun]}/").status_code for noun in ("jobs", "quotes", "steps")} == {
        200
    }
    for address in asked:
        assert theirs.get(address).status_code in {404, 405}, address
        assert theirs.post(address).status_code in {404, 405}, address
