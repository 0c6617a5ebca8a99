"""The plain form of the newest steps: lines to tick, several of a list, safety lines read first."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from checklists.record.read import work_of
from tests.roles import step_of

READ = {"safety": "1"}


@pytest.fixture
def job(opened):
    return opened("2")


@pytest.fixture
def send(client_of, bob, job):
    """Return a sender of one step's form."""

    def make(role, data):
        pk = step_of(job, role).pk
        body = {"submission": str(uuid.uuid4()), **data}
        return client_of(bob).post(reverse("checklists:step_record", args=[pk]), body)

    return make


def value(job, role, name):
    return work_of(job).install.value(role, name)


def test_safety_lines_come_first_and_once_a_day(send, job):
    answer = send("works_before", {"not_working": ["pump"]})
    assert answer.status_code == 422
    assert "Read the safety lines above first" in answer.content.decode()
    assert not StepEvent.objects.exists()
    assert send("works_before", {"not_working": ["pump"], **READ}).status_code == 302
    assert send("works_before", {"not_working": ["pump", "fridge"]}).status_code == 302
    assert StepEvent.objects.filter(verb="safety").count() == 1


def test_lines_are_kept_as_ticked(send, job):
    send("works_before", {"tried": ["house", "road_lights"], **READ})
    assert value(job, "works_before", "tried") == "road_lights,house"


def test_several_or_none(send, job):
    send("works_before", {"not_working": ["none"], **READ})
    assert value(job, "works_before", "not_working") == "none"
    answer = send("works_before", {"not_working": ["none", "pump"]})
    assert "“Everything works” or what there is, not both" in answer.content.decode()
    send("works_before", {"not_working": ["pump", "fridge"], "seen_not_working": standing(job)})
    assert value(job, "works_before", "not_working") == "pump,fridge"


def standing(job):
    install = work_of(job).install
    return str(install.state(install.step("works_before"))["not_working"].standing[0].id)


def test_a_locked_step_is_refused_with_what_it_waits_for(send):
    answer = send("clear_below", {"clear": ["feet"], **READ})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Nothing below is locked: " in text
    assert "has not passed" in text
