"""A quote is started from a design."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.design.revision import design_freeze, design_resize
from jobs.models import LineKind, Quote
from jobs.shop.actor import ByName

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


class TestOldSums:
    @pytest.fixture
    def stale(self, golden_job, now):
        """Return the golden design, sized before the survey learned of colder nights."""
        design = golden_job.designs.get()
        design_resize(design, actor=ByName("test"), at=now)
        golden_job.survey.tmin_storage_c = -38
        golden_job.survey.save()
        return design

    def test_a_design_sized_before_the_survey_changed_is_refused_with_a_way_out(
        self, url, stale, alice, client_of
    ):
        client = client_of(alice)
        page = client.post(url, {"miles": "46", "survey_fee_paid": "17"})
        assert page.status_code == 422
        assert "was sized before the survey" in page.text
        assert 'value="17"' in page.text
        assert not Quote.objects.exists()
        answer = client.post(reverse("jobs:design_size", args=[stale.pk]), {"then": "quote"})
        assert answer.url == url
        client.post(url, {"miles": "46"})
        assert Quote.objects.count() == 1

    def test_a_frozen_one_asks_for_a_new_revision_and_says_so_on_its_page(
        self, url, stale, alice, client_of, now
    ):
        design_freeze(design=stale, actor=ByName("test"), at=now)
        page = client_of(alice).post(url)
        assert "Make a new revision" in page.text
        assert "Size it again" not in page.text
        shown = client_of(alice).get(reverse("jobs:design_detail", args=[stale.pk]))
        assert "Make a new revision to pick up the change" in shown.text

    def test_a_copy_is_refused_too(self, stale, alice, now):
        from jobs.quote.draft import SumsAreOld, quote_copy, quote_create

        design_resize(stale, actor=ByName("test"), at=now)
        quote = quote_create(design=stale, actor=alice, at=now)
        survey = stale.job.survey
        survey.tmin_storage_c = -40
        survey.save()
        with pytest.raises(SumsAreOld, match="Size it again"):
            quote_copy(quote=quote, actor=alice, at=now)
