"""A person who reads another language works on pages in it, and what is stored is English."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from jobs.models import Job, LogEntry, Membership
from tests.roles import step_of
from tests.spoken import LANGUAGE, speak, written_in_it
from tests.unit.checklists.conftest import checklist, media, opened
from tests.web.jobs.test_quote_edit import typed
from tests.web.jobs.test_survey_edit import fields_of

__all__ = ["checklist", "media", "opened"]


@pytest.fixture
def reader(client_of, monkeypatch):
    """Return a maker of clients of people who read the other language."""

    def make(person):
        Membership.objects.filter(user=person).update(language=LANGUAGE)
        person.refresh_from_db()
        speak(monkeypatch)
        return client_of(person)

    return make


def test_a_job_is_moved(reader, erin, golden_job):
    client = reader(erin)
    Job.objects.filter(pk=golden_job.pk).update(state="enquiry")
    page = client.get(f"/jobs/{golden_job.pk}/").text
    assert "«Survey booked»" in page
    with written_in_it() as found:
        answer = client.post(f"/jobs/{golden_job.pk}/move/", {"to": "survey_booked", "reason": ""})
        assert answer.status_code == 302
    assert found == []
    assert LogEntry.objects.get(verb="job moved").detail == "Survey booked"
    assert "«job moved»" in client.get(f"/jobs/{golden_job.pk}/log/").text


def test_a_line_of_a_quote_is_edited(reader, alice, draft_quote):
    client = reader(alice)
    url = reverse("jobs:quote_edit", args=[draft_quote.pk])
    assert "«Hours»" in client.get(url).text
    with written_in_it() as found:
        sent = typed(client, url, **{"labour-0-quantity": "2", "save": "yes"})
        assert client.post(url, sent).status_code == 302
    assert found == []


def test_a_step_is_recorded(reader, bob, checklist):
    client = reader(bob)
    step = step_of(checklist, "rest_volts", "")
    url = reverse("checklists:step_record", args=[step.pk])
    with written_in_it() as found:
        body = {"submission": str(uuid.uuid4()), "rest_v": "12.6", "note": "Cold"}
        assert client.post(url, body).status_code == 302
    assert found == []
    assert {(event.by_role, event.value) for event in StepEvent.objects.all()} == {
        ("technician", 12.6),
        ("technician", "Cold"),
    }


def test_a_page_of_the_survey_is_saved_with_an_odd_value(reader, erin, golden_job):
    client = reader(erin)
    url = f"/jobs/{golden_job.pk}/survey/roof/"
    page = client.get(url)
    assert "«Roof length»" in page.text
    with written_in_it() as found:
        sent = fields_of(page) | {"roof_length_m": ["50 ft"], "act": "save"}
        asked = client.post(url, sent)
        assert asked.status_code == 422
        sent = fields_of(asked) | {"sure": [sure_of(asked.text)], "act": "save"}
        assert client.post(url, sent).status_code == 302
    assert found == []
    assert LogEntry.objects.get(verb="survey changed").detail == "Roof: Roof length"
    golden_job.survey.refresh_from_db()
    assert golden_job.survey.flags["roof_length_m"].startswith("Roof length 50' (usual: ")


def sure_of(page):
    """Return the key of the box that says that odd values are right."""
    start = page.index('name="sure"')
    tag = page[page.rindex("<input", 0, start) : page.index(">", start)]
    return tag.split('value="')[1].split('"')[0]
