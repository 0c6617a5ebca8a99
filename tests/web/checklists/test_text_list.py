"""The page of step texts: the owner rewrites one, tablet and step page show it, other shops nothing."""

from __future__ import annotations

import pytest

from checklists.models import ShopText
from checklists.office.texts import key_of
from checklists.plan.templates import newest_version
from checklists.tablet.download import job_download

URL = "/texts/"
LIFT = "Two people for anything over ‹20 kg|44 lb› and for every panel on a ladder."
OWN = "Never alone with more than [44 lb]."


@pytest.fixture
def checklist(opened):
    """Return an install on the newest list."""
    return opened(newest_version())


def write(client, text=OWN, source=LIFT, language="en-us"):
    """Post one text as the page does."""
    return client.post(
        "/texts/write/", {"language": language, "key": key_of(source), "text": text, "group": "safety"}
    )


class TestTextList:
    def test_it_shows_safety_lines_in_the_units_of_the_shop(self, client_of, alice):
        page = client_of(alice).get(URL).content.decode()
        assert "anything over [44 lb]" in page
        assert "20 kg" not in page
        assert "made by machine" not in page.lower()

    def test_spanish_says_that_it_is_to_be_reviewed(self, client_of, alice):
        page = client_of(alice).get(URL, {"language": "es", "group": "A"}).content.decode()
        assert "Made by machine, to be reviewed" in page
        assert "Recepción" in page

    def test_words_are_found_in_every_phase(self, client_of, alice):
        page = client_of(alice).get(URL, {"words": "anything over"}).content.decode()
        assert "1 text;" in page

    @pytest.mark.parametrize("person", ["erin", "lena", "bob", "ken"])
    def test_only_the_owner_writes(self, client_of, request, person):
        client = client_of(request.getfixturevalue(person))
        assert client.get(URL).status_code == 403
        assert write(client).status_code == 403
        assert not ShopText.objects.exists()


class TestTextWrite:
    def test_tablet_and_step_page_show_it_and_the_record_does_not(self, client_of, alice, checklist):
        assert write(client_of(alice)).status_code == 302
        stored = "Never alone with more than ‹20 kg|44 lb›."
        assert ShopText.objects.get().text == stored
        assert job_download(checklist)["says"]["en-us"] == {LIFT: stored}
        step = checklist.steps.filter(code="D1", is_in_scope=True).first()
        page = client_of(alice).get(f"/steps/{step.pk}/").content.decode()
        assert "Never alone with more than 44 lb." in page
        assert not any(stored in str(each.fields) for each in checklist.steps.all())

    def test_a_quantity_left_out_is_told(self, client_of, alice):
        client = client_of(alice)
        write(client, "Never alone.")
        assert "Keep these parts exactly as they are" in client.get(URL).content.decode()
        assert not ShopText.objects.exists()

    def test_it_is_put_back(self, client_of, alice):
        write(client_of(alice))
        row = ShopText.objects.get()
        assert client_of(alice).post(f"/texts/{row.pk}/put-back/").status_code == 302
        assert not ShopText.objects.exists()

    def test_another_shop_sees_and_touches_none_of_it(self, client_of, alice, charlie):
        write(client_of(alice))
        row = ShopText.objects.get()
        assert client_of(charlie).post(f"/texts/{row.pk}/put-back/").status_code == 404
        assert "Never alone" not in client_of(charlie).get(URL).content.decode()
        assert ShopText.objects.count() == 1
