"""Batches of events from a tablet: any order, any repeat, all of a batch or none, never a redirect."""

from __future__ import annotations

import json
import random
import uuid

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from checklists.selectors.install import work_of


@pytest.fixture
def url(checklist):
    return reverse("checklists:event_batch", args=[checklist.job_id])


@pytest.fixture
def post(client_of, bob, url):
    def make(events, person=None, body=None):
        data = body if body is not None else json.dumps({"events": events})
        return client_of(person or bob).post(url, data, content_type="application/json")

    return make


@pytest.fixture
def event(checklist):
    def make(code, name, value=None, subject="", **more):
        step = checklist.steps.get(code=code, subject=subject).pk
        return {
            "id": str(uuid.uuid4()),
            "step": step,
            "field": name,
            "value": value,
            "at": "2026-11-25T09:10:00-07:00",
            "device": "tablet 2",
            "design_number": 1,
        } | more

    return make


def test_it_works(post, event, checklist):
    events = [event("A5", "rest_v", 12.6, unit="V"), event("A4", "tried", True)]
    answer = post(events)
    assert answer.status_code == 200
    assert sorted(answer.json()["new"]) == sorted(each["id"] for each in events)
    stored = StepEvent.objects.get(field="rest_v")
    assert (stored.device, stored.claimed_at.isoformat()) == ("tablet 2", "2026-11-25T16:10:00+00:00")
    assert work_of(checklist).install.value("A5", "rest_v") == 12.6


def test_a_repeat_is_named_as_known(post, event):
    events = [event("A5", "rest_v", 12.6)]
    post(events)
    answer = post([*events, *events, event("A4", "tried", True)])
    assert answer.json()["known"] == [events[0]["id"]]
    assert len(answer.json()["new"]) == 1
    assert StepEvent.objects.count() == 2


def test_any_order_over_several_batches_gives_the_same_record(post, event, checklist):
    first = event("A5", "rest_v", 12.1)
    second = event("A5", "rest_v", 12.6, replaces=[first["id"]])
    third = event("A5", "rest_v", 12.9, replaces=[second["id"]])
    undo = event("A5", "", verb="undo", undoes=third["id"])
    chain = [first, second, third, undo]
    random.Random(3).shuffle(chain)
    for each in chain:
        assert post([each]).status_code == 200
    assert work_of(checklist).install.value("A5", "rest_v") == 12.6


def test_one_bad_event_stops_the_batch(post, event):
    answer = post([event("A4", "tried", True), event("A5", "rest_v", 900)])
    assert answer.status_code == 409
    assert "must be 0 to 70 V, got 900" in answer.json()["error"]
    assert not StepEvent.objects.exists()


def test_work_in_a_locked_phase_is_kept_and_the_lock_is_told(post, event):
    answer = post([event("D9", "resistance_ohm", 0.05)])
    assert answer.status_code == 200
    assert "D" in answer.json()["locked_phases"]
    assert StepEvent.objects.get().was_locked


def test_a_deviation_comes_back_with_the_answer(post, event):
    answer = post([event("F1", "run_len_m", 14.0, "circuit:C2")])
    assert any("limit 3 %" in each["sentence"] for each in answer.json()["deviations"])


@pytest.mark.parametrize(
    "body",
    [
        "",
        "{",
        '{"events": [{"id": ',
        "[]",
        "null",
        '{"events": {}}',
        '{"events": [1]}',
        '{"events": [{"id": "x", "step": 1}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": "1"}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "value": NaN}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "at": "yesterday"}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "at": "2026-11-25T10:00"}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "field": 7}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "replaces": "all"}]}',
        '{"events": [{"id": "00000000-0000-0000-0000-000000000001", "step": 1, "design_number": 99999}]}',
        "[" * 100_000,
        "\x00\x01",
    ],
)
def test_a_body_that_is_no_batch_is_refused_plainly(post, body):
    answer = post(None, body=body)
    assert answer.status_code == 400
    assert answer.json()["error"]
    assert not StepEvent.objects.exists()


def test_a_batch_too_long_is_refused(post, event, monkeypatch):
    monkeypatch.setattr("checklists.views.event.BATCH_LIMIT", 2)
    answer = post([event("A4", "tried", True) for _ in range(3)])
    assert answer.status_code == 400
    assert "At most 2 events" in answer.json()["error"]


def test_a_photo_must_be_here_first(post, event):
    answer = post([event("A2", "photo", photo=str(uuid.uuid4()))])
    assert answer.status_code == 409
    assert "send the photo first" in answer.json()["error"]


def test_signed_out_is_told_as_such_and_never_redirected(client, url):
    answer = client.post(url, "{}", content_type="application/json")
    assert answer.status_code == 401
    assert "what is queued is kept" in answer.json()["error"]


def test_a_page_of_another_site_cannot_send(bob, url):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(bob)
    assert client.post(url, "{}", content_type="application/json").status_code == 403


def test_get_is_not_allowed(client_of, bob, url):
    assert client_of(bob).get(url).status_code == 405


def test_it_hides_the_job_from_a_stranger(post, event, charlie):
    assert post([event("A4", "tried", True)], person=charlie).status_code == 404
    assert not StepEvent.objects.exists()


def test_the_bookkeeper_records_nothing(post, event, ken):
    assert post([event("A4", "tried", True)], person=ken).status_code == 409
    assert not StepEvent.objects.exists()
