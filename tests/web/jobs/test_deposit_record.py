"""Deposit money is entered by the owner or the bookkeeper."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.models import Job

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(accepted_quote) -> str:
    """Return where deposit money of the job is entered."""
    return reverse("jobs:deposit_record", args=[accepted_quote.job_id])


class TestDepositRecord:
    @pytest.mark.parametrize("who", ["alice", "ken"])
    def test_it_works(self, request, url, accepted_quote, client_of, who):
        client_of(request.getfixturevalue(who)).post(url, {"amount": f"{accepted_quote.deposit}"})
        accepted_quote.refresh_from_db()
        assert accepted_quote.deposit_left == 0
        assert Job.objects.get(pk=accepted_quote.job_id).state == Job.State.DEPOSIT_PAID

    @pytest.mark.parametrize("amount", ["0", "-5", "NaN", "1e9", "much", ""])
    def test_it_refuses_what_is_no_amount(self, url, accepted_quote, alice, client_of, amount):
        answer = client_of(alice).post(url, {"amount": amount})
        assert answer.status_code == 422
        accepted_quote.refresh_from_db()
        assert accepted_quote.deposit_paid == 0

    def test_it_keeps_what_was_typed(self, url, alice, client_of):
        assert 'value="1e9"' in client_of(alice).post(url, {"amount": "1e9"}).text

    def test_the_estimator_is_told_who_may(self, url, erin, client_of):
        answer = client_of(erin).post(url, {"amount": "5"})
        assert "Only the owner or the bookkeeper" in answer.text

    def test_technicians_may_not(self, url, bob, client_of):
        assert client_of(bob).post(url, {"amount": "5"}).status_code == 403

    def test_it_hides_from_a_stranger(self, url, charlie, client_of):
        assert client_of(charlie).post(url, {"amount": "5"}).status_code == 404
