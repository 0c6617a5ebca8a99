"""Which jobs a person may have on a tablet: technicians those they are on, unless the owner widens it."""

from __future__ import annotations

import json
import uuid

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from tests.roles import step_of

JOBS = "/tablet/jobs/"


@pytest.fixture(autouse=True)
def narrow(shop, checklist):
    """Ask for the rule new shops begin with."""
    shop.technicians_take_all = False
    shop.save()


def addresses(checklist) -> list[str]:
    """Return where a tablet reads a job."""
    return [
        reverse("checklists:take_along", args=[checklist.job_id]),
        reverse("checklists:events", args=[checklist.job_id]),
    ]


def seen(client) -> list[int]:
    return [job["pk"] for job in client.get(JOBS).json()["jobs"]]


def test_a_technician_sees_no_job_of_others(bob, client_of, checklist):
    client = client_of(bob)
    assert seen(client) == []
    assert [client.get(each).status_code for each in addresses(checklist)] == [404, 404]


def test_a_technician_takes_along_a_job_they_are_on(bob, client_of, checklist):
    checklist.job.assigned_to.add(bob)
    client = client_of(bob)
    assert seen(client) == [checklist.job_id]
    assert [client.get(each).status_code for each in addresses(checklist)] == [200, 200]


def test_the_owner_may_let_them_take_all(bob, client_of, checklist, shop):
    shop.technicians_take_all = True
    shop.save()
    assert seen(client_of(bob)) == [checklist.job_id]
    assert client_of(bob).get(addresses(checklist)[0]).status_code == 200


@pytest.mark.parametrize("name", ["alice", "erin", "lena"])
def test_others_take_any_job_of_the_shop_along(request, name, client_of, checklist):
    client = client_of(request.getfixturevalue(name))
    assert seen(client) == [checklist.job_id]
    assert client.get(addresses(checklist)[0]).status_code == 200


def test_being_named_on_it_does_not_let_a_stranger_in(charlie, client_of, checklist):
    checklist.job.assigned_to.add(charlie)  # no page does this
    charlie.membership.role = "technician"
    charlie.membership.save()
    client = client_of(charlie)
    assert seen(client) == []
    assert [client.get(each).status_code for each in addresses(checklist)] == [404, 404]


def test_what_was_recorded_before_being_taken_off_is_kept(bob, client_of, checklist):
    """A tablet that was away sends its queue: nothing somebody did is lost, and nothing new is read."""
    event = {
        "id": str(uuid.uuid4()), "step": step_of(checklist, "rest_volts").pk, "field": "rest_v",
        "value": 12.6, "unit": "V", "at": "2026-11-25T09:10:00-07:00", "device": "tablet 2",
        "design_number": 1,
    }  # fmt: skip
    body = json.dumps({"events": [event]})
    answer = client_of(bob).post(addresses(checklist)[1], body, content_type="application/json")
    assert answer.json()["new"] == [event["id"]]
    assert StepEvent.objects.get().by_name == "Bob Test"
