"""A quote goes out: the link is shown once, the letter is on its way, what stands in the way is said."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import GuestLink, Job, LineKind, OutboxMail, Quote
from jobs.quote.draft import quote_create, quote_price, terms_of
from jobs.quote.lines import LineDraft, draft_of
from tests.quotes import nothing_missing

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(draft_quote) -> str:
    """Return where the draft is sent."""
    return reverse("jobs:quote_send", args=[draft_quote.pk])


def with_line(quote: Quote, line: LineDraft, actor, at) -> None:
    """Price a quote with one more line."""
    lines = [draft_of(each) for each in quote.lines.all()]
    quote_price(
        quote=quote,
        terms=terms_of(quote),
        lines=[*lines, line],
        scope=[],
        edits=quote.edits,
        actor=actor,
        at=at,
    )


class TestQuoteSend:
    def test_it_works(self, url, draft_quote, alice, client_of, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            page = client_of(alice).post(url)
        token = re.search(r"http://testserver/q/([\w-]+)/", page.text)[1]
        link = GuestLink.objects.get()
        assert link.quote == draft_quote
        assert token not in link.token_sha256
        letter = OutboxMail.objects.get()
        assert f"/q/{token}/" in letter.body
        assert (letter.to, letter.job_id, letter.state) == (
            "pardee@mail.example",
            draft_quote.job_id,
            "waiting",
        )
        assert "is also being e-mailed to pardee@mail.example" in page.text
        assert "mailto:pardee@mail.example?subject=" in page.text
        assert "no-store" in page["Cache-Control"]
        draft_quote.refresh_from_db()
        assert draft_quote.is_sent
        assert Job.objects.get(pk=draft_quote.job_id).state == Job.State.QUOTED

    def test_looking_sends_nothing(self, url, draft_quote, alice, client_of):
        assert client_of(alice).get(url).status_code == 200
        draft_quote.refresh_from_db()
        assert draft_quote.is_draft

    def test_a_second_press_does_not_send_twice(self, url, alice, client_of):
        client = client_of(alice)
        client.post(url)
        answer = client.post(url, follow=True)
        assert "has been sent and cannot be changed" in answer.text
        assert GuestLink.objects.count() == 1

    def test_a_lost_link_is_replaced(self, sent_quote, alice, client, client_of):
        page = client_of(alice).post(reverse("jobs:quote_link", args=[sent_quote.pk]))
        token = re.search(r"http://testserver/q/([\w-]+)/", page.text)[1]
        assert client.get(f"/q/{token}/", follow=True).status_code == 200
        assert client.get(f"/q/{sent_quote.token}/").status_code == 404

    def test_a_thin_margin_needs_the_owner_and_a_reason(self, url, draft_quote, alice, erin, now, client_of):
        gift = LineDraft(LineKind.PART, "Gift", unit_cost=Decimal(9000), markup=Decimal(0))
        with_line(draft_quote, gift, alice, now)
        refused = client_of(erin).post(url, follow=True)
        assert "Only the owner can send this" in refused.text
        assert "Why it is sent anyway" not in client_of(erin).get(url).text
        owner = client_of(alice)
        assert "Why it is sent anyway" in owner.get(url).text
        assert "Say why" in owner.post(url, {"reason": ""}, follow=True).text
        owner.post(url, {"reason": "Friend of the shop"})
        draft_quote.refresh_from_db()
        assert draft_quote.is_sent
        assert draft_quote.below_margin_ok_by_name == "Alice Test"

    def test_an_estimators_large_quote_is_read_over_first(
        self, draft_quote, erin, lena, alice, now, client_of
    ):
        quote = nothing_missing(quote_create(design=draft_quote.design, actor=erin, at=now), erin, now)
        url = reverse("jobs:quote_send", args=[quote.pk])
        if quote.total <= 8000:
            with_line(quote, LineDraft(LineKind.SUBCONTRACT, "Crane", unit_price=Decimal(8000)), erin, now)
        assert "A second person has to read it over" in client_of(erin).post(url, follow=True).text
        client_of(alice).post(reverse("jobs:quote_review", args=[quote.pk]))
        client_of(erin).post(url)
        quote.refresh_from_db()
        assert quote.is_sent

    @pytest.mark.parametrize("who", ["bob", "lena", "ken"])
    def test_others_may_not(self, request, url, client_of, who):
        assert client_of(request.getfixturevalue(who)).post(url).status_code == 403

    def test_it_hides_from_a_stranger(self, url, charlie, client_of):
        assert client_of(charlie).post(url).status_code == 404
