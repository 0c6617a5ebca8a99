"""Signing in and out; nobody signs up by themselves."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.test import Client

PASSWORD = "seal-under-and-over"


@pytest.fixture
def bob_with_password(bob):
    cache.clear()  # the count of failed tries lives there
    bob.set_password(PASSWORD)
    bob.save()
    return bob


class TestLogin:
    def test_it_works(self, bob_with_password):
        answer = Client().post(
            "/account/login/?next=/search/", {"login": "bob@shop.example", "password": PASSWORD}
        )
        assert answer.headers["Location"] == "/search/"

    def test_a_wrong_password_says_no_more_than_that(self, bob_with_password):
        pages = [
            Client().post("/account/login/", {"login": login, "password": "wrong"}).content.decode()
            for login in ("bob@shop.example", "nobody@shop.example")
        ]
        assert all("not correct" in page for page in pages)

    def test_it_leads_nowhere_else(self, bob_with_password):
        data = {"login": "bob@shop.example", "password": PASSWORD, "next": "https://example.org/"}
        assert Client().post("/account/login/", data).headers["Location"] == "/"

    def test_guessing_is_slowed(self, bob_with_password):
        for _ in range(12):
            answer = Client().post("/account/login/", {"login": "bob@shop.example", "password": "wrong"})
        assert answer.status_code == 429 or "Too many" in answer.content.decode()
        cache.clear()

    def test_nobody_signs_up(self, db):
        page = Client().get("/account/signup/")
        assert "No sign-up here" in page.content.decode()

    def test_signing_out_ends_it(self, client_of, bob_with_password):
        client = client_of(bob_with_password)
        client.post("/account/logout/")
        assert client.get("/").status_code == 302

    @pytest.mark.parametrize("path", ["password/reset/", "password/change/", "login/", "logout/"])
    def test_every_account_page_is_ours(self, client_of, bob_with_password, path):
        client = Client() if path in {"password/reset/", "login/"} else client_of(bob_with_password)
        text = client.get(f"/account/{path}").content.decode()
        assert 'class="masthead"' in text
        assert text.count("<h1>") == 1

    def test_a_forgotten_password_is_asked_for_in_our_words(self, bob_with_password, mailoutbox):
        text = Client().get("/account/password/reset/").content.decode()
        assert "The owner of your shop can make you a link" in text
        for address in (bob_with_password.email, "nobody@elsewhere.example"):
            answer = Client().post("/account/password/reset/", {"email": address}, follow=True)
            assert "Check your e-mail" in answer.content.decode()
        known, unknown = mailoutbox
        assert known.subject == "Choose a new password"
        assert bob_with_password.membership.shop.name in known.body
        assert "/account/password/reset/key/" in known.body
        assert "sign up" not in unknown.body  # nobody signs up by themselves
