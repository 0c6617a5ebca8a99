"""One quote at the desk, and what the customer will read."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from jobs.models import Quote

pytestmark = pytest.mark.django_db


def page_of(name: str, quote: Quote) -> str:
    return reverse(f"jobs:{name}", args=[quote.pk])


class TestQuoteDetail:
    def test_it_works(self, draft_quote, alice, client_of):
        text = client_of(alice).get(page_of("quote_detail", draft_quote)).text
        assert "Rigid panel P200" in text
        assert "Gross margin" in text
        assert "30.0% markup or 30.0% margin?" in text

    def test_both_readings_of_the_percent_are_shown(self, draft_quote, alice, client_of):
        text = client_of(alice).get(page_of("quote_detail", draft_quote)).text
        assert "23.1% margin" in text
        assert "42.9% markup" in text  # 0.30 / 0.70

    def test_a_sent_quote_offers_a_copy_not_an_edit(self, sent_quote, alice, client_of):
        text = client_of(alice).get(page_of("quote_detail", sent_quote)).text
        assert "Copy to a new quote" in text
        assert reverse("jobs:quote_edit", args=[sent_quote.pk]) not in text
        assert "Sent, not opened yet" in text

    def test_the_token_is_nowhere_on_it(self, sent_quote, alice, client_of):
        assert sent_quote.token not in client_of(alice).get(page_of("quote_detail", sent_quote)).text

    def test_technicians_do_not_see_it(self, draft_quote, bob, lena, client_of):
        for person in (bob, lena):
            for name in ("quote_detail", "quote_preview", "quote_pdf"):
                assert client_of(person).get(page_of(name, draft_quote)).status_code == 403

    def test_it_hides_from_a_stranger(self, draft_quote, charlie, client_of):
        for name in ("quote_detail", "quote_edit", "quote_preview", "quote_send", "quote_pdf"):
            assert client_of(charlie).get(page_of(name, draft_quote)).status_code == 404
        for name in ("quote_link", "quote_copy", "quote_review", "quote_withdraw"):
            assert client_of(charlie).post(page_of(name, draft_quote)).status_code == 404

    @pytest.mark.parametrize("name", ["quote_detail", "quote_edit", "quote_send"])
    def test_it_takes_few_queries(self, draft_quote, alice, client_of, name, django_assert_max_num_queries):
        client = client_of(alice)
        with django_assert_max_num_queries(12):
            assert client.get(page_of(name, draft_quote)).status_code == 200


class TestQuotePreview:
    def test_it_shows_a_draft_as_it_would_go_out(self, draft_quote, alice, client_of):
        text = client_of(alice).get(page_of("quote_preview", draft_quote)).text
        assert "would see if you sent it today" in text
        assert "Included and not included" in text

    def test_it_holds_no_cost(self, odd_costs, draft_quote, alice, client_of):
        text = client_of(alice).get(page_of("quote_preview", draft_quote)).text
        assert not odd_costs(text)
        assert not re.search(r"\b(margin|markup|cost to us)\b", text, re.IGNORECASE)


class TestAfterwards:
    def test_copy_review_and_withdraw(self, sent_quote, alice, erin, client_of):
        client = client_of(alice)
        client.post(page_of("quote_copy", sent_quote))
        copy = Quote.objects.get(number=2)
        assert copy.is_draft
        client_of(erin).post(page_of("quote_review", copy))
        copy.refresh_from_db()
        assert copy.reviewed_by_name == "Erin Test"
        client.post(page_of("quote_withdraw", sent_quote), {"reason": "Wrong panels"})
        sent_quote.refresh_from_db()
        assert sent_quote.state == Quote.State.SUPERSEDED

    def test_it_wants_a_reason_to_take_back(self, sent_quote, alice, client_of):
        page = client_of(alice).post(page_of("quote_withdraw", sent_quote), follow=True)
        assert "Please say why" in page.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_a_link_is_taken_back(self, sent_quote, alice, charlie, client, client_of):
        link = sent_quote.links.get()
        url = reverse("jobs:link_revoke", args=[link.pk])
        assert client_of(charlie).post(url).status_code == 404
        client_of(alice).post(url)
        assert client.get(f"/q/{sent_quote.token}/").status_code == 404

    def test_looking_changes_nothing(self, sent_quote, alice, client_of):
        for name in ("quote_copy", "quote_link", "quote_withdraw", "quote_review"):
            assert client_of(alice).get(page_of(name, sent_quote)).status_code == 405
        assert Quote.objects.count() == 1
