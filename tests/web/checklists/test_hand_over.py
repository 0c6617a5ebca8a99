"""Signatures taken on a tablet: kept whatever happens, standing only under what was shown."""

from __future__ import annotations

import json
import uuid

import pytest
from django.urls import reverse

from checklists.models import SignOff, StepEvent
from checklists.record.read import work_of
from checklists.rules.hand_over import FORM, recorded_rows, sha256_of
from checklists.sheet.draft import sheet_draft
from tests.unit.checklists.walk import complete
from tests.web.checklists.test_sign_off import STROKES


@pytest.fixture
def done(checklist, lena, now):
    complete(checklist, lena, now)
    return checklist


def body(checklist, part="customer", **more):
    """Return what a tablet sends that has seen every event."""
    rows = recorded_rows(work_of(checklist).install)
    head = [checklist.job.number, "Nell Pardee", "", "", "1"]
    content = json.dumps([FORM, head, rows, more.pop("open", []), ["Care"]], ensure_ascii=False)
    return {
        "id": str(uuid.uuid4()),
        "part": part,
        "printed_name": "Nell Pardee",
        "signature_svg": STROKES,
        "content": content,
        "content_sha256": sha256_of(content),
        "events": [str(pk) for pk in StepEvent.objects.values_list("pk", flat=True)],
        "at": "2026-11-25T15:00:00Z",
    } | more


def send(client, checklist, data):
    url = reverse("checklists:hand_over", args=[checklist.job_id])
    return client.post(url, json.dumps(data), content_type="application/json")


def test_it_stands_under_the_sheet_as_shown(client_of, lena, done):
    client = client_of(lena)
    data = body(done)
    answer = send(client, done, data)
    assert answer.json() == {"stored": data["id"], "counts": True, "sentence": ""}
    assert "customer" not in sheet_draft(done).missing_parts
    row = SignOff.objects.get()
    assert row.shown == data["content"]
    assert send(client, done, data).json()["stored"] == data["id"]
    assert SignOff.objects.count() == 1


def test_a_record_changed_meanwhile_is_said_and_the_signature_kept(client_of, lena, done, record):
    data = body(done)
    record(done, "rest_volts", "soc_percent", 80)
    answer = send(client_of(lena), done, data).json()
    assert answer["stored"] == data["id"]
    assert not answer["counts"]
    assert "has changed since" in answer["sentence"]
    assert "customer" in sheet_draft(done).missing_parts
    page = client_of(lena).get(reverse("checklists:sign_off", args=[done.job_id])).content.decode()
    assert "does not count for this sheet" in page


def test_content_that_the_events_do_not_give_does_not_stand(client_of, lena, done):
    data = body(done)
    content = json.loads(data["content"])
    content[2][0][3] = "f:4028000000000000"
    data["content"] = json.dumps(content, ensure_ascii=False)
    data["content_sha256"] = sha256_of(data["content"])
    answer = send(client_of(lena), done, data).json()
    assert answer["sentence"] == "What was shown does not match the record."
    data = body(done, events=body(done)["events"][1:])
    assert not send(client_of(lena), done, data).json()["counts"]


def test_what_was_open_does_not_stand(client_of, lena, checklist):
    answer = send(client_of(lena), checklist, body(checklist)).json()
    assert not answer["counts"]
    assert "still open" in answer["sentence"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"part": "owner"}, "no such place"),
        ({"printed_name": " "}, "print the name"),
        ({"content_sha256": "0" * 64}, "does not match what was signed"),
        ({"signature_svg": "<svg onload=1></svg>"}, "cannot be read"),
        ({"content": "[]", "content_sha256": sha256_of("[]")}, "must be a list that begins with"),
    ],
)
def test_what_is_no_signature_is_refused(client_of, lena, checklist, change, words):
    answer = send(client_of(lena), checklist, body(checklist, **change))
    assert answer.status_code == 409
    assert words in answer.json()["error"]
    assert not SignOff.objects.exists()


@pytest.mark.parametrize(
    "change", [{"id": "x"}, {"events": "all"}, {"content": 7}, {"printed_name": "x" * 151}]
)
def test_an_unreadable_body_is_told_where(client_of, lena, checklist, change):
    assert send(client_of(lena), checklist, body(checklist, **change)).status_code == 400


def test_signed_out_and_strangers(client, client_of, charlie, ken, checklist):
    assert send(client, checklist, {}).status_code == 401
    assert send(client_of(charlie), checklist, body(checklist)).status_code == 404
    assert send(client_of(ken), checklist, body(checklist)).status_code == 409
