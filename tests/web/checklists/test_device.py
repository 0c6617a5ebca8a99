"""Tablets: greeted, listed, revoked and restored; what a revoked one sends is held, whole, and decided on."""

from __future__ import annotations

import json
import uuid

import pytest
from django.urls import reverse

from checklists.models import Device, HeldBatch, StepEvent
from checklists.record.read import work_of
from jobs.models import LogEntry
from tests.roles import step_of

KEY = "0b6f9a52-3a0e-4d1b-9f57-1f6f0a3b7c11"


@pytest.fixture
def send(client_of, bob, checklist):
    """Return a sender of events as the tablet KEY."""
    url = reverse("checklists:events", args=[checklist.job_id])

    def make(*events, person=None, **more):
        body = {
            "device": KEY,
            "device_name": "Roof tablet",
            "app": "2026-11-26",
            "events": list(events),
        } | more
        return client_of(person or bob).post(url, json.dumps(body), content_type="application/json")

    return make


@pytest.fixture
def tick(checklist):
    def make(role="appliances_tried", name="tried", value=True, **more):
        step = step_of(checklist, role).pk
        return {"id": str(uuid.uuid4()), "step": step, "field": name, "value": value} | more

    return make


@pytest.fixture
def device(send):
    send()
    return Device.objects.get()


@pytest.fixture
def revoked(device, client_of, alice):
    client_of(alice).post(reverse("checklists:device_change", args=[device.pk]))
    device.refresh_from_db()
    return device


class TestHello:
    url = "/tablet/hello/"

    def test_it_works(self, client_of, bob):
        answer = client_of(bob).get(self.url, {"device": KEY})
        told = answer.json()
        assert answer.status_code == 200
        assert "no-store" in answer["Cache-Control"]
        assert told["device"] == {"state": "new", "name": ""}
        assert told["person"] == {
            "id": bob.pk, "name": "Bob Test", "role": "technician", "language": "en-us",
        }  # fmt: skip
        assert told["csrf"]
        assert told["server_time"].endswith("+00:00")
        assert client_of(bob).get(self.url, {"device": KEY}).json()["device"]["state"] == "known"

    def test_its_token_lets_a_batch_through(self, bob, checklist, tick):
        from django.test import Client

        client = Client(enforce_csrf_checks=True)
        client.force_login(bob)
        token = client.get(self.url).json()["csrf"]
        url = reverse("checklists:events", args=[checklist.job_id])
        body = json.dumps({"events": [tick()]})
        send = {"content_type": "application/json"}
        assert client.post(url, body, **send).status_code == 403
        assert client.post(url, body, headers={"X-CSRFToken": token}, **send).status_code == 200

    def test_signed_out_is_told_as_such_and_never_redirected(self, client):
        assert client.get(self.url).status_code == 401

    def test_a_key_that_is_none_is_refused(self, client_of, bob):
        assert client_of(bob).get(self.url, {"device": "tablet"}).status_code == 400

    def test_a_key_of_another_shop_is_another_tablet(self, client_of, bob, charlie, revoked):
        assert client_of(bob).get(self.url, {"device": KEY}).json()["device"]["state"] == "revoked"
        assert client_of(charlie).get(self.url, {"device": KEY}).json()["device"]["state"] == "new"


def test_a_batch_makes_its_tablet_known(send, tick, bob):
    made = tick(at="2026-11-25T07:10:00-07:00")
    answer = send(made, offset_ms=7_200_000)
    assert answer.json()["new"] == [made["id"]]
    stored, device = StepEvent.objects.get(), Device.objects.get()
    assert stored.sent_from == device
    assert (device.name, device.app_version, device.person) == ("Roof tablet", "2026-11-26", bob)
    assert stored.claimed_at.isoformat() == "2026-11-25T14:10:00+00:00"
    assert stored.done_at.isoformat() == "2026-11-25T16:10:00+00:00"
    assert device.clock_words == "2.0 h slow"


@pytest.mark.parametrize(
    ("claimed", "offset"),
    [("0001-01-01T00:00:00+14:00", 5), ("9999-12-31T23:59:59-11:00", 5), ("2026-01-01T00:00:00Z", 10**18)],
)
def test_a_clock_without_sense_loses_nothing(send, tick, claimed, offset):
    assert send(tick(at=claimed), offset_ms=offset).status_code == 200
    assert 2020 < StepEvent.objects.get().done_at.year < 2200


@pytest.mark.parametrize(
    "more",
    [
        {"device": "x"},
        {"device": 7},
        {"device_name": "x" * 65},
        {"app": 3},
        {"offset_ms": "1"},
        {"offset_ms": 1.5},
    ],
)
def test_what_is_no_tablet_is_refused(send, tick, more):
    assert send(tick(), **more).status_code == 400
    assert not StepEvent.objects.exists()


def test_a_shell_too_old_is_told_to_update(send, tick, monkeypatch):
    assert send(tick(), app="2026-11-26").status_code == 200
    monkeypatch.setattr("checklists.tablet.wire.OLDEST_FORM", "2027-03-01")
    answer = send(tick(), app="2026-11-26")
    assert answer.status_code == 426
    assert "your work is kept" in answer.json()["error"]
    assert send(tick(), app="2027-03-01").status_code == 200


def test_a_shell_of_ninety_days_is_always_read():
    import datetime as dt

    from checklists.tablet import wire

    first = dt.date(2026, 11, 26)
    oldest, form = dt.date.fromisoformat(wire.OLDEST_FORM), dt.date.fromisoformat(wire.FORM)
    assert oldest == first or oldest <= form - dt.timedelta(days=90)


class TestRevoked:
    def test_its_work_is_held_and_not_recorded(self, revoked, send, tick):
        made = tick()
        answer = send(made, offset_ms=-60_000)
        assert answer.json()["held"] == [made["id"]]
        assert answer.json()["new"] == answer.json()["known"] == []
        assert not StepEvent.objects.exists()
        held = HeldBatch.objects.get()
        assert json.loads(held.body)["events"] == [made]
        assert LogEntry.objects.filter(verb="work of a revoked tablet held").exists()

    def test_the_same_again_is_held_once(self, revoked, send, tick):
        made, other = tick(), tick(name="", verb="note", value="dent")
        send(made, sent_at="2026-11-25T10:00:00Z")
        assert send(made, sent_at="2026-11-25T10:00:05Z").json()["held"] == [made["id"]]
        assert HeldBatch.objects.count() == 1
        send(made, other)
        assert HeldBatch.objects.count() == 2

    def test_the_owner_takes_it_in_as_the_work_of_who_did_it(
        self, revoked, send, tick, client_of, alice, checklist
    ):
        send(tick("rest_volts", "rest_v", 12.6))
        held = HeldBatch.objects.get()
        page = client_of(alice).get(reverse("checklists:held_detail", args=[held.pk]))
        assert "12.6 V" in page.content.decode()
        client_of(alice).post(reverse("checklists:held_detail", args=[held.pk]), {"reason": ""})
        stored = StepEvent.objects.get()
        assert (stored.by_name, stored.by_role, stored.sent_from) == ("Bob Test", "technician", revoked)
        assert work_of(checklist).install.value("rest_volts", "rest_v") == 12.6
        held.refresh_from_db()
        assert (held.state, held.decided_by_name) == ("taken", "Alice Test")
        assert LogEntry.objects.filter(verb="held work added to the record").exists()

    def test_hours_of_a_revoked_tablet_are_read_and_taken_in(
        self, revoked, send, tick, client_of, alice, bob, checklist
    ):
        from checklists.record.hours import job_spans

        value = {"who": bob.pk, "name": "Bob Test"}
        send(tick(step=None, name="D", verb="start", value=value))
        url = reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk])
        page = client_of(alice).get(url).content.decode()
        assert "Clock started, phase D" in page
        assert "not a step of this job" not in page
        assert job_spans(checklist) == ()
        client_of(alice).post(url, {"reason": ""})
        assert [span.name for span in job_spans(checklist)] == ["Bob Test"]

    def test_work_of_somebody_who_left_can_be_taken_in(self, revoked, send, tick, client_of, alice, bob):
        send(tick())
        bob.membership.is_active = False
        bob.membership.save()
        client_of(alice).post(reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk]))
        assert StepEvent.objects.get().by == bob

    def test_setting_aside_needs_a_reason_and_keeps_it(self, revoked, send, tick, client_of, alice):
        send(tick())
        url = reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk])
        answer = client_of(alice).post(url, {"aside": "", "reason": "no"})
        assert answer.status_code == 422
        assert "at least 15 characters" in answer.content.decode()
        client_of(alice).post(url, {"aside": "", "reason": "tablet was stolen at the yard"})
        held = HeldBatch.objects.get()
        assert (held.state, held.reason) == ("aside", "tablet was stolen at the yard")
        assert not StepEvent.objects.exists()
        again = client_of(alice).post(url)
        assert "decided already" in again.content.decode()
        assert not StepEvent.objects.exists()

    def test_one_bad_value_stops_it_unless_it_is_left_out(self, revoked, send, tick, client_of, alice):
        good, bad = tick(), tick("rest_volts", "rest_v", 900)
        send(good, bad)
        url = reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk])
        assert "must be 0 to 70 V, got 900" in client_of(alice).post(url).content.decode()
        assert not StepEvent.objects.exists()
        client_of(alice).post(url, {"leave_out_bad": "on"})
        assert str(StepEvent.objects.get().pk) == good["id"]
        held = HeldBatch.objects.get()
        assert bad["id"] in held.reason
        assert len(json.loads(held.body)["events"]) == 2

    def test_a_page_of_odd_values_still_shows(self, revoked, send, tick, client_of, alice):
        send(
            tick(step=999_999), tick("rest_volts", "rest_v", 10**400), tick(value={"a": "\x00"}),
            tick(verb="undo"), tick("rest_volts", "nothing", None), tick(photo=str(uuid.uuid4())),
            tick("shore_power", "gfci", [1]),
        )  # fmt: skip
        page = client_of(alice).get(reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk]))
        assert page.status_code == 200
        assert "not a step of this job" in page.content.decode()

    def test_restored_it_records_again(self, revoked, send, tick, client_of, alice):
        client_of(alice).post(reverse("checklists:device_change", args=[revoked.pk]), {"restore": ""})
        assert send(tick()).json()["held"] == []
        assert StepEvent.objects.count() == 1
        verbs = set(LogEntry.objects.values_list("verb", flat=True))
        assert {"tablet seen first", "tablet revoked", "tablet restored"} <= verbs

    def test_the_bookkeeper_leaves_nothing_to_hold(self, revoked, send, tick, ken):
        assert send(tick(), person=ken).status_code == 409
        assert not HeldBatch.objects.exists()


class TestPages:
    def test_the_list_shows_tablets_and_what_waits(self, revoked, send, tick, client_of, alice):
        send(tick())
        page = client_of(alice).get(reverse("checklists:device_list")).content.decode()
        assert "Roof tablet" in page
        assert "1 held" in page
        assert "please decide" in page
        assert reverse("checklists:device_list") in client_of(alice).get("/people/").content.decode()

    def test_only_the_owner_sees_or_changes_them(self, device, client_of, bob, lena):
        for person in (bob, lena):
            assert client_of(person).get(reverse("checklists:device_list")).status_code == 403
            assert (
                client_of(person).post(reverse("checklists:device_change", args=[device.pk])).status_code
                == 403
            )
        device.refresh_from_db()
        assert not device.is_revoked

    def test_a_stranger_sees_nothing(self, revoked, send, tick, client_of, charlie):
        send(tick())
        stranger = client_of(charlie)
        assert "Roof tablet" not in stranger.get(reverse("checklists:device_list")).content.decode()
        assert stranger.post(reverse("checklists:device_change", args=[revoked.pk])).status_code == 404
        held = reverse("checklists:held_detail", args=[HeldBatch.objects.get().pk])
        assert stranger.get(held).status_code == 404
        assert stranger.post(held).status_code == 404
