"""A job's quotes side by side, and what the job comes to."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.models import Design, Quote
from jobs.quote.draft import quote_create

pytestmark = pytest.mark.django_db


def url(job) -> str:
    return reverse("jobs:quote_list", args=[job.pk])


class TestQuoteList:
    def test_it_works(self, draft_quote, alice, client_of):
        page = client_of(alice).get(url(draft_quote.job))
        assert page.status_code == 200
        assert "Quote 1" in page.text
        assert "Start a quote on" in page.text

    def test_an_empty_job_says_where_quotes_come_from(self, golden_job, alice, client_of):
        assert "A quote starts from a design" in client_of(alice).get(url(golden_job)).text

    def test_two_options_stand_side_by_side(self, draft_quote, alice, now, client_of):
        other = Design.objects.get(pk=draft_quote.design_id)
        other.pk, other.number, other.option = None, 2, Design.Option.LANTERN
        other.save()
        Quote.objects.filter(pk=quote_create(design=other, actor=alice, at=now).pk).update(
            run=draft_quote.run, total=draft_quote.total - 1000
        )
        text = client_of(alice).get(url(draft_quote.job)).text
        assert "Options side by side" in text
        assert "Hearth compared with Lantern" in text
        assert "for $1,000.00 more" in text

    def test_technicians_do_not_see_prices(self, draft_quote, bob, lena, client_of):
        for person in (bob, lena):
            assert client_of(person).get(url(draft_quote.job)).status_code == 403

    def test_the_bookkeeper_reads_but_starts_nothing(self, draft_quote, ken, client_of):
        page = client_of(ken).get(url(draft_quote.job))
        assert page.status_code == 200
        assert "Start a quote on" not in page.text

    def test_it_hides_from_a_stranger(self, draft_quote, charlie, client_of):
        assert client_of(charlie).get(url(draft_quote.job)).status_code == 404

    def test_it_asks_for_a_sign_in(self, draft_quote, client):
        assert client.get(url(draft_quote.job)).status_code == 302

    @pytest.mark.parametrize("count", [10, 1000])
    def test_as_many_queries_for_many_as_for_few(
        self, draft_quote, alice, client_of, count, django_assert_num_queries
    ):
        facts = {"job": draft_quote.job, "design": draft_quote.design, "run": draft_quote.run}
        Quote.objects.bulk_create(Quote(number=number + 10, **facts) for number in range(count))
        client = client_of(alice)
        with django_assert_num_queries(8):
            client.get(url(draft_quote.job))
