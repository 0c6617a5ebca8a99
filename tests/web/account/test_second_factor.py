"""The second factor: set up, asked for, required of owners; where a person is signed in."""

from __future__ import annotations

import base64
import hmac
import re
import struct
import time
from io import StringIO

import pytest
from allauth.mfa.models import Authenticator
from django.core.management import CommandError, call_command
from django.test import Client

PASSWORD = "seal-under-and-over"
APP = "/account/second-factor/totp/activate/"


def code_of(secret: str, at: float | None = None) -> str:
    """Return the code of an authenticator app: RFC 6238 with HMAC-SHA-1, 30 s, 6 digits."""
    key = base64.b32decode(secret + "=" * (-len(secret) % 8))
    counter = struct.pack(">Q", int((time.time() if at is None else at) // 30))
    digest = hmac.digest(key, counter, "sha1")
    start = digest[-1] & 15
    number = struct.unpack(">I", digest[start : start + 4])[0] & 0x7FFFFFFF
    return f"{number % 1_000_000:06d}"


def test_the_sum_is_that_of_the_standard():
    """RFC 6238, appendix B: 59 s gives 94287082 in eight digits."""
    assert code_of(base64.b32encode(b"12345678901234567890").decode(), at=59) == "287082"


@pytest.fixture(autouse=True)
def people(alice, bob):
    for person in (alice, bob):
        person.set_password(PASSWORD)
        person.save()


def signed_in(person, client: Client | None = None) -> Client:
    client = client or Client()
    answer = client.post("/account/login/", {"login": person.email, "password": PASSWORD})
    assert answer.status_code == 302
    return client


def confirmed(client: Client) -> Client:
    """Say once more who it is, as every change of the way to sign in asks."""
    assert client.post("/account/reauthenticate/", {"password": PASSWORD, "next": APP})["Location"] == APP
    return client


def set_up(person) -> tuple[Client, str]:
    """Set up an app; return the client and the secret."""
    client = confirmed(signed_in(person))
    secret = re.search(r"<code>(\w+)</code>", client.get(APP).text)[1]
    assert client.post(APP, {"code": code_of(secret)}).status_code == 302
    return client, secret


class TestAnApp:
    def test_it_is_set_up_and_then_asked_for(self, bob):
        _, secret = set_up(bob)
        later = Client()
        answer = later.post("/account/login/", {"login": bob.email, "password": PASSWORD})
        assert answer["Location"].startswith("/account/second-factor/authenticate/")
        assert later.get("/")["Location"].startswith("/account/login/")  # not in yet
        assert "_auth_user_id" not in later.session
        wrong = later.post(answer["Location"], {"code": "000000"})
        assert "Incorrect code" in wrong.text
        right = later.post(answer["Location"], {"code": code_of(secret, at=time.time() + 30)})
        assert right.status_code == 302
        assert later.get("/").status_code == 200

    def test_a_code_works_once(self, bob):
        _, secret = set_up(bob)
        code = code_of(secret, at=time.time() + 30)
        for hoped in (302, 200):
            client = Client()
            client.post("/account/login/", {"login": bob.email, "password": PASSWORD})
            answer = client.post("/account/second-factor/authenticate/", {"code": code})
            assert answer.status_code == hoped

    def test_guessing_codes_is_slowed(self, bob):
        set_up(bob)
        client = Client()
        client.post("/account/login/", {"login": bob.email, "password": PASSWORD})
        for _ in range(11):
            answer = client.post("/account/second-factor/authenticate/", {"code": "000000"})
        assert "Too many failed" in answer.text

    def test_a_recovery_code_opens_once(self, bob):
        set_up(bob)
        row = Authenticator.objects.get(user=bob, type=Authenticator.Type.RECOVERY_CODES)
        code = row.wrap().get_unused_codes()[0]
        for hoped in (302, 200):
            client = Client()
            client.post("/account/login/", {"login": bob.email, "password": PASSWORD})
            answer = client.post("/account/second-factor/authenticate/", {"code": code})
            assert answer.status_code == hoped

    def test_the_database_alone_does_not_tell_the_secret(self, bob):
        _, secret = set_up(bob)
        stored = " ".join(str(row.data) for row in Authenticator.objects.all())
        assert secret not in stored

    def test_setting_up_asks_once_more_who_it_is(self, bob):
        client = signed_in(bob)
        for path in (APP, "/account/second-factor/webauthn/add/"):
            assert "/account/reauthenticate/" in client.get(path)["Location"]
        wrong = client.post("/account/reauthenticate/", {"password": "wrong", "next": APP})
        assert wrong.status_code == 200
        assert "/account/reauthenticate/" in client.get(APP)["Location"]

    def test_the_key_of_another_person_is_not_there(self, bob, charlie):
        theirs = Authenticator.objects.create(user=charlie, type="webauthn", data={"name": "Theirs"})
        client = confirmed(signed_in(bob))
        for act in ("remove", "edit"):
            assert client.get(f"/account/second-factor/webauthn/keys/{theirs.pk}/{act}/").status_code == 404


class TestOwners:
    @pytest.fixture(autouse=True)
    def wanted(self, shop):
        shop.owners_need_second_factor = True
        shop.save()

    def test_an_owner_without_one_is_led_to_it(self, alice):
        client = signed_in(alice)
        for path in ("/", "/people/", "/shop/", "/tablet/"):
            assert client.get(path)["Location"] == "/account/second-factor/"
        page = client.get("/account/second-factor/")
        assert "asks its owners for a second factor" in page.text
        assert client.post("/people/new/", {"email": "x@shop.example"}).status_code == 403

    def test_a_script_is_refused_and_not_led_away(self, alice):
        client = signed_in(alice)
        for headers in ({"Sec-Fetch-Mode": "cors"}, {"HX-Request": "true"}):
            assert client.get("/tablet/jobs/", headers=headers).status_code == 403

    def test_with_one_all_is_open(self, alice):
        client, _ = set_up(alice)
        assert client.get("/people/").status_code == 200

    def test_others_are_not_asked(self, bob, charlie):
        assert signed_in(bob).get("/").status_code == 200
        charlie.set_password(PASSWORD)
        charlie.save()
        assert signed_in(charlie).get("/").status_code == 200

    def test_only_the_owner_sets_it(self, alice, bob, shop):
        assert signed_in(bob).get("/shop/").status_code == 403


class TestLost:
    def test_an_owner_removes_that_of_another_person(self, alice, bob):
        set_up(bob)
        client = signed_in(alice)
        page = f"/people/{bob.membership.pk}/"
        assert "Remove the second factor" in client.get(page).text
        client.post(f"{page}second-factor/")
        assert not Authenticator.objects.filter(user=bob).exists()
        assert "Remove the second factor" not in client.get(page).text
        signed_in(bob)

    def test_nobody_else_does(self, alice, bob, erin, charlie, client_of):
        set_up(alice)
        page = f"/people/{alice.membership.pk}/second-factor/"
        assert client_of(bob).post(page).status_code == 403
        assert client_of(erin).post(page).status_code == 403
        assert client_of(charlie).post(page).status_code == 404
        client_of(alice).post(page)  # her own she changes on her own page, where she is asked who she is
        assert Authenticator.objects.filter(user=alice, type="totp").exists()

    def test_the_operator_helps_the_last_owner(self, alice):
        set_up(alice)
        call_command("second_factor_off", "ALICE@shop.example", stdout=StringIO())
        signed_in(alice)
        with pytest.raises(CommandError, match="Nobody"):
            call_command("second_factor_off", "nobody@shop.example")


class TestSessions:
    def test_they_are_listed_and_ended(self, bob):
        here, there = signed_in(bob), signed_in(bob)
        page = here.get("/account/sessions/").text
        assert "This browser" in page
        assert "Sign out everywhere else" in page
        here.post("/account/sessions/")
        assert there.get("/").status_code == 302
        assert here.get("/").status_code == 200

    def test_nobody_sees_or_ends_those_of_others(self, bob, alice):
        there = signed_in(alice)
        here = signed_in(bob)
        assert here.get("/account/sessions/").text.count("127.0.0.1") == 1
        here.post("/account/sessions/")
        assert there.get("/").status_code == 200


def test_a_new_password_has_twelve_characters(bob):
    client = signed_in(bob)
    data = {"oldpassword": PASSWORD, "password1": "eleven-char", "password2": "eleven-char"}
    assert "at least 12 characters" in client.post("/account/password/change/", data).text


@pytest.mark.parametrize(
    "path", ["", "totp/activate/", "webauthn/add/", "webauthn/", "recovery-codes/generate/"]
)
def test_every_page_is_ours(bob, path):
    client, _ = set_up(bob) if path.startswith("recovery") else (confirmed(signed_in(bob)), "")
    text = client.get(f"/account/second-factor/{path}").text
    assert 'class="masthead"' in text
    assert text.count("<h1>") == 1
