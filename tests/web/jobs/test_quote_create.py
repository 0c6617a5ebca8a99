"""A quote is started from a design."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import LineKind, Quote

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(golden_job) -> str:
    """Return where a quote on the golden design is started."""
    return reverse("jobs:quote_create", args=[golden_job.designs.get().pk])


class TestQuoteCreate:
    def test_it_works(self, url, alice, client_of):
        client = client_of(alice)
        assert client.get(url).status_code == 200
        answer = client.post(url, {"miles": "46", "hours_each_way": "1.5", "survey_fee_paid": "120"})
        quote = Quote.objects.get()
        assert answer.url == reverse("jobs:quote_edit", args=[quote.pk])
        assert quote.lines.get(kind=LineKind.TRAVEL).quantity == Decimal(21)
        assert quote.lines.get(kind=LineKind.DISCOUNT).amount == Decimal("-120.00")

    def test_a_bare_post_starts_one_too(self, url, erin, client_of):
        client_of(erin).post(url)
        assert Quote.objects.get().written_by == erin

    @pytest.mark.parametrize(
        ("miles", "said"),
        [
            ("-5", "Miles to the work, one way must be 0 to 2,000 miles; you typed -5."),
            ("1e9", "Miles to the work, one way must be 0 to 2,000 miles; you typed 1e9."),
            ("NaN", "is not a number"),
            ("far", "is not a number"),
        ],
    )
    def test_it_names_field_limit_and_unit_and_keeps_what_was_typed(self, url, alice, client_of, miles, said):
        page = client_of(alice).post(url, {"miles": miles, "survey_fee_paid": "17"})
        assert page.status_code == 422
        assert said in page.text
        assert f'value="{miles}"' in page.text
        assert 'value="17"' in page.text
        assert not Quote.objects.exists()

    @pytest.mark.parametrize("who", ["bob", "lena", "ken"])
    def test_it_refuses_who_does_not_design(self, request, url, client_of, who):
        assert client_of(request.getfixturevalue(who)).post(url).status_code == 403

    def test_it_hides_the_design_from_a_stranger(self, url, charlie, client_of):
        assert client_of(charlie).get(url).status_code == 404
        assert client_of(charlie).post(url).status_code == 404
