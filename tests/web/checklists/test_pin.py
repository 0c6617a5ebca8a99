"""A PIN on a shop's tablet: signs its person in for 30 days after its last use; five wrong ones end it."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.test import Client
from django.urls import reverse

from checklists.models import Device, DevicePin
from checklists.tablet import pins
from jobs.models import LogEntry

KEY = "0b6f9a52-3a0e-4d1b-9f57-1f6f0a3b7c11"
SECRET, OTHER = "ab" * 32, "cd" * 32
DAYS_30 = 30 * 86_400
JSON = {"content_type": "application/json"}


def post(client, url, **data):
    return client.post(url, json.dumps({"device": KEY} | data), **JSON)


@pytest.fixture
def device(client_of, bob):
    client_of(bob).get("/tablet/hello/", {"device": KEY, "name": "Linux tablet"})
    return Device.objects.get()


@pytest.fixture
def pin(device, client_of, bob):
    assert post(client_of(bob), "/tablet/pin/", secret=SECRET).json() == {"has_pin": True}
    return DevicePin.objects.get()


def unlock(client=None, person=None, secret=SECRET, **more):
    return post(client or Client(), "/tablet/unlock/", person=person, secret=secret, **more)


def test_only_a_slow_hash_is_stored(pin):
    assert SECRET not in json.dumps(list(DevicePin.objects.values()), default=str)
    assert pin.secret_hash.split("$")[0] != ""
    assert LogEntry.objects.filter(verb="tablet PIN set").count() == 1


def test_it_signs_its_person_in(pin, bob):
    client = Client(enforce_csrf_checks=True)
    answer = unlock(client, bob.pk)
    assert answer.status_code == 200
    assert answer.json()["person"]["id"] == bob.pk
    assert client.get("/tablet/hello/", {"device": KEY}).json()["person"]["id"] == bob.pk
    assert client.cookies["sessionid"]["max-age"] == DAYS_30


def test_with_a_pin_the_session_lasts_30_days_and_slides(pin, client_of, bob):
    client = client_of(bob)
    answer = client.get("/tablet/hello/", {"device": KEY})
    assert answer.json()["has_pin"]
    assert answer.cookies["sessionid"]["max-age"] == DAYS_30
    again = client.get("/tablet/hello/", {"device": KEY})
    assert "sessionid" not in again.cookies  # written once a day
    session = client.session
    session["kept_on"] = "2026-01-01"
    session.save()
    assert client.get("/tablet/hello/", {"device": KEY}).cookies["sessionid"]["max-age"] == DAYS_30


def test_without_a_pin_the_session_is_as_long_as_elsewhere(device, client_of, bob):
    answer = client_of(bob).get("/tablet/hello/", {"device": KEY})
    assert not answer.json()["has_pin"]
    assert "sessionid" not in answer.cookies


def test_the_fifth_wrong_one_takes_the_pin_away(pin, bob):
    for _ in range(4):
        answer = unlock(person=bob.pk, secret=OTHER)
        assert (answer.status_code, answer.json()["error"]) == (403, "This is not the PIN.")
    assert unlock(person=bob.pk, secret=OTHER).status_code == 401
    assert unlock(person=bob.pk).status_code == 401
    assert not DevicePin.objects.exists()
    assert LogEntry.objects.filter(verb="tablet PIN removed after wrong tries").count() == 1


def test_a_right_one_forgives_the_wrong_ones_before(pin, bob):
    for _ in range(3):
        for _ in range(4):
            unlock(person=bob.pk, secret=OTHER)
        assert unlock(person=bob.pk).status_code == 200


def test_a_new_password_ends_it(pin, bob):
    bob.set_password("another-lantern-on-the-ridge")
    bob.save()
    assert unlock(person=bob.pk).status_code == 401


def test_31_days_unused_end_it(pin, bob):
    DevicePin.objects.update(used_at=pin.used_at - dt.timedelta(days=31))
    assert unlock(person=bob.pk).status_code == 401
    DevicePin.objects.update(used_at=pin.used_at - dt.timedelta(days=29))
    assert unlock(person=bob.pk).status_code == 200


def test_a_revoked_tablet_opens_nothing(pin, bob, client_of, alice):
    client_of(alice).post(reverse("checklists:device_change", args=[pin.device_id]))
    assert unlock(person=bob.pk).status_code == 401
    assert post(client_of(bob), "/tablet/pin/", secret=SECRET).status_code == 409


def test_who_left_stays_out(pin, bob):
    bob.membership.is_active = False
    bob.membership.save()
    assert unlock(person=bob.pk).status_code == 401


def test_another_person_or_tablet_has_no_pin_here(pin, bob, lena):
    assert unlock(person=lena.pk).status_code == 401
    assert unlock(person=bob.pk, device="00000000-3a0e-4d1b-9f57-1f6f0a3b7c11").status_code == 401


def test_two_people_share_a_tablet(pin, client_of, bob, lena):
    assert post(client_of(lena), "/tablet/pin/", secret=OTHER).json() == {"has_pin": True}
    client = Client()
    for person, secret in ((bob, SECRET), (lena, OTHER), (bob, SECRET)):
        assert unlock(client, person.pk, secret).status_code == 200
        assert client.get("/tablet/hello/", {"device": KEY}).json()["person"]["id"] == person.pk


def test_each_signing_in_has_its_own_mark(pin, bob):
    marks = set()
    for _ in range(2):
        client = Client()
        unlock(client, bob.pk)
        marks.add(client.get("/tablet/hello/", {"device": KEY}).json()["session"])
    assert len(marks) == 2


def test_it_is_forgotten_when_asked(pin, client_of, bob):
    assert post(client_of(bob), "/tablet/pin/").json() == {"has_pin": False}
    assert not DevicePin.objects.exists()


@pytest.mark.parametrize(
    "more",
    [{"person": "1"}, {"person": True}, {"person": 0}, {"person": 2**40}, {"secret": 5}, {"device": "x"}],
)
def test_a_body_that_is_none(pin, bob, more):
    assert unlock(**{"person": bob.pk} | more).status_code == 400


def test_a_form_of_another_site_is_no_body(pin, bob):
    data = {"device": KEY, "person": bob.pk, "secret": SECRET}
    assert Client().post("/tablet/unlock/", data).status_code == 400
    assert Client().post("/tablet/unlock/", json.dumps(data), content_type="text/plain").status_code == 400


def test_signed_out_and_strangers(device, client_of, charlie):
    assert post(Client(), "/tablet/pin/", secret=SECRET).status_code == 401
    assert post(Client(), "/tablet/name/", name="Mine").status_code == 401
    assert post(client_of(charlie), "/tablet/name/", name="Mine").status_code == 404
    assert post(client_of(charlie), "/tablet/pin/", secret=SECRET).status_code == 404


def test_a_tablet_is_named_on_itself_and_in_the_office(device, client_of, bob, alice):
    assert str(device) == "Linux tablet"
    assert post(client_of(bob), "/tablet/name/", name=" Van 2 ").json() == {"name": "Van 2"}
    client_of(bob).get(
        "/tablet/hello/", {"device": KEY, "name": "Linux tablet"}
    )  # its own guess changes nothing
    page = client_of(alice).get(reverse("checklists:device_list")).content.decode()
    assert "Van 2" in page
    url = reverse("checklists:device_change", args=[device.pk])
    assert client_of(alice).post(url, {"name": "Roof one"}).status_code == 302
    device.refresh_from_db()
    assert (str(device), device.is_revoked) == ("Roof one", False)
    assert client_of(bob).get("/tablet/hello/", {"device": KEY}).json()["device"]["name"] == "Roof one"
    assert post(client_of(bob), "/tablet/name/", name="x" * 41).status_code == 409
    client_of(alice).post(url, {"name": ""})
    device.refresh_from_db()
    assert str(device) == "Linux tablet"


def test_the_numbers():
    """30 days and five tries are what the shops asked for."""
    assert (pins.KEPT_FOR.days, pins.MOST_WRONG) == (30, 5)


def test_while_the_tablet_is_locked_the_shops_pages_are_shut(pin, client_of, bob):
    client = client_of(bob)
    board = reverse("jobs:job_board")
    assert client.get(board).status_code == 200
    told = client.get("/tablet/hello/", {"device": KEY, "locked": "1"}).json()
    assert told["is_locked"]
    answer = client.get(board)
    assert (answer.status_code, answer["Location"]) == (302, reverse("checklists:tablet"))
    assert client.get("/tablet/jobs/").status_code == 200  # what waits is sent all the same
    assert client.get("/tablet/hello/", {"device": KEY}).json()["is_locked"]  # nobody opens it by saying so
    assert unlock(client, bob.pk).status_code == 200
    assert client.get(board).status_code == 200


def test_without_a_pin_nothing_is_locked(device, client_of, bob):
    client = client_of(bob)
    assert not client.get("/tablet/hello/", {"device": KEY, "locked": "1"}).json()["is_locked"]
    assert client.get(reverse("jobs:job_board")).status_code == 200
