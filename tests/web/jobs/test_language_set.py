"""A person turns the pages to their language; nobody else's pages turn with it."""

from __future__ import annotations

import pytest
from django.test import Client

from jobs.models import LogEntry, Membership

URL = "/people/language/"


def language_of(person):
    """Return what is kept of a person."""
    return Membership.objects.get(user=person).language


class TestLanguageSet:
    @pytest.mark.parametrize("person", ["alice", "erin", "lena", "bob", "ken"])
    def test_everybody_turns_their_own_pages(self, client_of, request, person):
        user = request.getfixturevalue(person)
        answer = client_of(user).post(URL, {"language": "es", "next": "/people/language/"})
        assert answer.headers["Location"] == "/people/language/"
        assert language_of(user) == "es"
        assert '<html lang="es">' in client_of(user).get("/").content.decode()
        assert LogEntry.objects.get(verb="language chosen").detail == "Español"

    def test_the_pages_of_others_stay(self, client_of, alice, bob):
        client_of(bob).post(URL, {"language": "es"})
        assert '<html lang="en-us">' in client_of(alice).get("/").content.decode()

    def test_a_browser_in_spanish_decides_nothing(self, client_of, bob):
        page = client_of(bob).get("/", headers={"accept-language": "es-MX,es;q=0.9"})
        assert '<html lang="en-us">' in page.content.decode()

    def test_it_refuses_a_language_there_is_not(self, client_of, bob):
        client_of(bob).post(URL, {"language": "xx"})
        assert language_of(bob) == "en-us"

    def test_it_leads_nowhere_else(self, client_of, bob):
        answer = client_of(bob).post(URL, {"language": "es", "next": "https://elsewhere.example/"})
        assert answer.headers["Location"] == "/"

    def test_strangers_are_asked_to_sign_in(self):
        assert Client().post(URL, {"language": "es"}).status_code == 302

    def test_the_owner_sets_it_with_the_person(self, client_of, alice, bob):
        start = {"role": "technician", "is_active": "on", "language": "es"}
        client_of(alice).post(f"/people/{bob.membership.pk}/", start)
        assert language_of(bob) == "es"
