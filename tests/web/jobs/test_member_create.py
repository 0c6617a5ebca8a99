"""People of a shop: added by the owner, let in by a link that works once."""

from __future__ import annotations

import re

import pytest
from django.contrib.auth.models import User
from django.test import Client

from jobs.models import LogEntry, Membership

NEW = {
    "first_name": "Nia", "last_name": "New", "email": "Nia@Shop.example", "role": "technician",
}  # fmt: skip
PASSWORD = "seal-under-and-over"


def link_in(page):
    """Return the path of the link the page shows."""
    return re.search(r"http://testserver(/account/[^<\s]+)", page.content.decode()).group(1)


class TestMemberCreate:
    def test_the_whole_way_in(self, client_of, alice, shop):
        page = client_of(alice).post("/people/new/", NEW)
        member = Membership.objects.get(user__email="nia@shop.example")
        assert (member.shop, member.role) == (shop, "technician")
        assert not member.user.has_usable_password()
        visitor = Client()
        form_page = visitor.get(link_in(page), follow=True)
        action = form_page.redirect_chain[-1][0]
        visitor.post(action, {"password1": PASSWORD, "password2": PASSWORD})
        answer = Client().post("/account/login/", {"login": "nia@shop.example", "password": PASSWORD})
        assert answer.headers["Location"] == "/"

    def test_the_link_works_once(self, client_of, alice):
        link = link_in(client_of(alice).post("/people/new/", NEW))
        visitor = Client()
        action = visitor.get(link, follow=True).redirect_chain[-1][0]
        visitor.post(action, {"password1": PASSWORD, "password2": PASSWORD})
        assert "This link has expired" in Client().get(link, follow=True).content.decode()

    def test_the_link_is_not_kept_anywhere(self, client_of, alice):
        link = link_in(client_of(alice).post("/people/new/", NEW))
        assert not LogEntry.objects.filter(detail__contains=link.split("/")[-2]).exists()
        assert link not in client_of(alice).get("/people/").content.decode()

    @pytest.mark.parametrize("email", ["erin@shop.example", "ERIN@shop.example", "charlie@shop.example"])
    def test_an_address_signs_in_once(self, client_of, alice, erin, charlie, email):
        page = client_of(alice).post("/people/new/", NEW | {"email": email})
        assert page.status_code == 422
        assert "already has a sign-in" in page.content.decode()

    @pytest.mark.parametrize("change", [{"email": "x"}, {"role": "king"}, {"first_name": ""}])
    def test_it_refuses_nonsense(self, client_of, alice, change):
        assert client_of(alice).post("/people/new/", NEW | change).status_code == 422
        assert not User.objects.filter(last_name="New").exists()

    @pytest.mark.parametrize("person", ["erin", "lena", "bob", "ken"])
    def test_only_the_owner(self, client_of, request, person):
        client = client_of(request.getfixturevalue(person))
        assert client.get("/people/").status_code == 403
        assert client.post("/people/new/", NEW).status_code == 403


class TestMemberEdit:
    def test_it_works(self, client_of, alice, bob):
        data = {"role": "lead_technician", "licence_no": "L-1", "phone": "303 555 0183", "is_active": "on"}
        client_of(alice).post(f"/people/{bob.membership.pk}/", data)
        bob.membership.refresh_from_db()
        assert (bob.membership.role, bob.membership.licence_no) == ("lead_technician", "L-1")
        assert bob.membership.phone == "303 555 0183"
        assert 'href="tel:3035550183"' in client_of(alice).get("/people/").content.decode()

    def test_somebody_who_left_is_shut_out_at_once(self, client_of, alice, bob):
        their_client = client_of(bob)
        assert their_client.get("/").status_code == 200
        client_of(alice).post(f"/people/{bob.membership.pk}/", {"role": "technician"})
        assert their_client.get("/").status_code == 403

    @pytest.mark.parametrize("change", [{"role": "technician", "is_active": "on"}, {"role": "owner"}])
    def test_the_last_owner_stays(self, client_of, alice, change):
        page = client_of(alice).post(f"/people/{alice.membership.pk}/", change)
        assert page.status_code == 422
        assert "at least one owner" in page.content.decode()

    def test_it_hides_our_people_from_a_stranger(self, client_of, charlie, bob):
        client = client_of(charlie)
        assert client.get(f"/people/{bob.membership.pk}/").status_code == 404
        assert client.post(f"/people/{bob.membership.pk}/link/").status_code == 404
        assert "bob@" not in client.get("/people/").content.decode()


class TestMemberLink:
    def test_it_works_and_is_logged(self, client_of, alice, bob):
        page = client_of(alice).post(f"/people/{bob.membership.pk}/link/")
        assert link_in(page)
        assert "no-store" in page.headers["Cache-Control"]
        assert LogEntry.objects.get().verb == "password link made"

    def test_not_for_somebody_who_left(self, client_of, alice, bob):
        Membership.objects.filter(pk=bob.membership.pk).update(is_active=False)
        assert client_of(alice).post(f"/people/{bob.membership.pk}/link/").status_code == 302

    def test_a_mere_look_makes_no_link(self, client_of, alice, bob):
        assert client_of(alice).get(f"/people/{bob.membership.pk}/link/").status_code == 405
