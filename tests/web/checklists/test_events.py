"""Batches of events from a tablet: any order, any repeat, all of a batch or none, never a redirect."""

from __future__ import annotations

import json
import random
import uuid

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from checklists.record.late import late_records
from checklists.record.read import work_of
from tests.roles import step_of


@pytest.fixture
def url(checklist):
    return reverse("checklists:events", args=[checklist.job_id])


@pytest.fixture
def post(client_of, bob, url):
    def make(events, person=None, body=None):
        data = body if body is not None else json.dumps({"events": events})
        return client_of(person or bob).post(url, data, content_type="application/json")

    return make


@pytest.fixture
def event(checklist):
    def make(role, name, value=None, subject="", **more):
        step = step_of(checklist, role, subject).pk
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
    events = [event("rest_volts", "rest_v", 12.6, unit="V"), event("appliances_tried", "tried", True)]
    answer = post(events)
    assert answer.status_code == 200
    assert sorted(answer.json()["new"]) == sorted(each["id"] for each in events)
    stored = StepEvent.objects.get(field="rest_v")
    assert (stored.device, stored.claimed_at.isoformat()) == ("tablet 2", "2026-11-25T16:10:00+00:00")
    assert work_of(checklist).install.value("rest_volts", "rest_v") == 12.6


def test_a_repeat_is_named_as_known(post, event):
    events = [event("rest_volts", "rest_v", 12.6)]
    post(events)
    answer = post([*events, *events, event("appliances_tried", "tried", True)])
    assert answer.json()["known"] == [events[0]["id"]]
    assert len(answer.json()["new"]) == 1
    assert StepEvent.objects.count() == 2


def test_any_order_over_several_batches_gives_the_same_record(post, event, checklist):
    first = event("rest_volts", "rest_v", 12.1)
    second = event("rest_volts", "rest_v", 12.6, replaces=[first["id"]])
    third = event("rest_volts", "rest_v", 12.9, replaces=[second["id"]])
    undo = event("rest_volts", "", verb="undo", undoes=third["id"])
    chain = [first, second, third, undo]
    random.Random(3).shuffle(chain)
    for each in chain:
        assert post([each]).status_code == 200
    assert work_of(checklist).install.value("rest_volts", "rest_v") == 12.6


def test_one_bad_event_stops_the_batch(post, event):
    answer = post([event("appliances_tried", "tried", True), event("rest_volts", "rest_v", 900)])
    assert answer.status_code == 409
    assert "must be 0 to 70 V, got 900" in answer.json()["error"]
    assert not StepEvent.objects.exists()


def test_work_in_a_locked_phase_is_kept_and_the_lock_is_told(post, event):
    answer = post([event("frames_bonded", "resistance_ohm", 0.05)])
    assert answer.status_code == 200
    assert "D" in answer.json()["locked_phases"]
    row = StepEvent.objects.get()
    assert list(late_records(work_of(row.checklist))) == [row.pk]


def test_a_deviation_comes_back_with_the_answer(post, event):
    answer = post([event("wire_length", "run_len_m", 14.0, "circuit:C2")])
    assert any("limit 3%" in each["sentence"] for each in answer.json()["deviations"])


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
    monkeypatch.setattr("checklists.tablet.wire.BATCH_LIMIT", 2)
    answer = post([event("appliances_tried", "tried", True) for _ in range(3)])
    assert answer.status_code == 400
    assert "At most 2 events" in answer.json()["error"]


def test_a_photo_must_be_here_first(post, event):
    answer = post([event("damage_found", "photo", photo=str(uuid.uuid4()))])
    assert answer.status_code == 409
    assert "send the photo first" in answer.json()["error"]


def test_signed_out_is_told_as_such_and_never_redirected(client, url):
    answer = client.post(url, "{}", content_type="application/json")
    assert answer.status_code == 401
    assert "what is waiting is kept" in answer.json()["error"]


def test_a_page_of_another_site_cannot_send(bob, url):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(bob)
    assert client.post(url, "{}", content_type="application/json").status_code == 403


def test_only_get_and_post_are_allowed(client_of, bob, url):
    assert client_of(bob).put(url).status_code == 405


def test_every_event_that_cannot_be_right_is_named(post, event):
    good = event("appliances_tried", "tried", True)
    bad = [
        event("rest_volts", "rest_v", 900),
        event("rest_volts", "no_such_field", 1),
        event("rest_volts", "rest_v", 12.6, step=999_999),
    ]
    answer = post([bad[0], good, *bad[1:]])
    assert answer.status_code == 409
    assert sorted(answer.json()["bad"]) == sorted(each["id"] for each in bad)
    assert "2 more of this batch" in answer.json()["error"]
    assert not StepEvent.objects.exists()
    assert post([good]).json()["new"] == [good["id"]]


def test_a_repeat_of_trimmed_text_is_known(post, event):
    made = event("damage_found", "damage", "  dent by the door ")
    assert post([made]).json()["new"] == [made["id"]]
    assert post([made]).json()["known"] == [made["id"]]


@pytest.mark.parametrize(
    ("role", "name", "value"),
    [
        ("rest_volts", "rest_v", 10**400),
        ("rest_volts", "rest_v", [[1]]),
        ("appliances_tried", "tried", {"a": "\x00"}),
        ("appliances_tried", "tried", "x" * 100_000),
        ("shore_power", "gfci", 10**400),
    ],
)
def test_values_without_measure_are_refused_and_not_echoed(post, event, role, name, value):
    answer = post([event(role, name, value)])
    assert answer.status_code == 409
    assert len(answer.content) < 400


def test_odd_marks_in_text_are_dropped_and_the_rest_is_kept(post, event):
    note = event("damage_found", "", "dent\x00 by \ud800 the door", verb="note", cause="\x00again")
    assert post([note]).status_code == 200
    stored = StepEvent.objects.get()
    assert (stored.value, stored.cause) == ("dent by ? the door", "again")


def test_a_revision_nobody_made_is_refused(post, event):
    answer = post([event("appliances_tried", "tried", True, design_number=9)])
    assert answer.status_code == 409
    assert "this job is on 1" in answer.json()["error"]


class TestWhatCameSince:
    @pytest.fixture
    def get(self, client_of, lena, url):
        def make(after="", person=None):
            return client_of(person or lena).get(url, {"after": after} if after else {})

        return make

    def test_it_works(self, post, event, get, bob):
        first = event("rest_volts", "rest_v", 12.6, unit="V")
        post([first])
        told = get().json()
        assert [each["id"] for each in told["events"]] == [first["id"]]
        assert told["events"][0]["by_name"] == "Bob Test"
        assert told["design_number"] == 1
        assert get(told["cursor"]).json()["events"] == []
        second = event("appliances_tried", "tried", True)
        post([second])
        assert [each["id"] for each in get(told["cursor"]).json()["events"]] == [second["id"]]

    def test_a_cursor_of_a_database_that_is_gone_starts_anew(self, post, event, get):
        post([event("appliances_tried", "tried", True)])
        assert len(get("900").json()["events"]) == 1

    @pytest.mark.parametrize("after", ["x", "-1", "1.5", "9" * 30, "٣"])
    def test_what_is_no_cursor_is_refused(self, get, after):
        assert get(after).status_code == 400

    def test_signed_out_and_strangers(self, client, url, get, charlie):
        assert client.get(url).status_code == 401
        assert get(person=charlie).status_code == 404

    def test_numbers_follow_one_another_over_batches(self, post, event, get):
        for _ in range(3):
            post([event("damage_found", "", "n", verb="note"), event("damage_found", "", "m", verb="note")])
        assert [each["serial"] for each in get().json()["events"]] == [1, 2, 3, 4, 5, 6]


def test_it_hides_the_job_from_a_stranger(post, event, charlie):
    assert post([event("appliances_tried", "tried", True)], person=charlie).status_code == 404
    assert not StepEvent.objects.exists()


def test_the_bookkeeper_records_nothing(post, event, ken):
    assert post([event("appliances_tried", "tried", True)], person=ken).status_code == 409
    assert not StepEvent.objects.exists()
