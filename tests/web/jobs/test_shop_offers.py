"""The owner's page about offers, and the list of those that wait for an answer."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from jobs.models import Quote, Shop, ShopLogo

pytestmark = pytest.mark.django_db
URL = reverse("jobs:shop_offers")


def test_names_and_days_are_kept(shop, alice, client_of):
    page = client_of(alice).post(URL, {"name_hearth": "Evening", "reminder_days": "10, 3"})
    assert page.status_code == 302
    kept = Shop.objects.get(pk=shop.pk)
    assert kept.option_texts["hearth"]["name"] == "Evening"
    assert kept.reminder_days == [3, 10]


@pytest.mark.parametrize("days", ["0", "91", "3.5", "soon", "1,2,3,4,5", "٣"])
def test_days_that_are_none_are_refused_and_kept_in_the_form(alice, client_of, days):
    page = client_of(alice).post(URL, {"reminder_days": days, "name_hearth": "Evening"})
    assert page.status_code == 422
    assert "Evening" in page.text


def test_a_logo_comes_and_goes(shop, alice, client_of):
    out = io.BytesIO()
    Image.new("RGB", (40, 10)).save(out, "PNG")
    desk, url = client_of(alice), reverse("jobs:shop_logo")
    desk.post(url, {"logo": SimpleUploadedFile("logo.png", out.getvalue())})
    assert desk.get(reverse("jobs:shop_logo_png"))["Content-Type"] == "image/png"
    desk.post(url, {"remove": "1"})
    assert not ShopLogo.objects.exists()


def test_a_file_that_is_no_picture_says_so(alice, client_of):
    page = client_of(alice).post(reverse("jobs:shop_logo"), {"logo": SimpleUploadedFile("logo.png", b"text")})
    assert page.status_code == 422
    assert "no picture we can read" in page.text


def test_it_is_the_owners(erin, bob, client_of):
    for person in (erin, bob):
        assert client_of(person).get(URL).status_code == 403


def test_an_offer_that_waits_is_listed_and_can_be_closed(sent_quote, alice, bob, charlie, client_of):
    follow, lost = reverse("jobs:offer_follow"), reverse("jobs:quote_lost", args=[sent_quote.pk])
    assert "Nell and Gus Pardee" in client_of(alice).get(follow).text
    assert client_of(bob).get(follow).status_code == 403
    assert "Nell and Gus Pardee" not in client_of(charlie).get(follow).text
    assert client_of(charlie).post(lost, {"lost_reason": "price"}).status_code == 404
    client_of(alice).post(lost, {"lost_reason": "price", "note": "Two hundred too much"})
    assert Quote.objects.get(pk=sent_quote.pk).lost_reason == "price"
