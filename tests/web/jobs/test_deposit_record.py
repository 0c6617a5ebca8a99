"""Money received is entered by the owner or the bookkeeper, on the page of a job's account."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, Payment

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(accepted_quote) -> str:
    """Return where money of the job is entered."""
    return reverse("jobs:payment_record", args=[accepted_quote.job_id])


def typed(amount: object, **more: str) -> dict[str, str]:
    """Return the form as it is sent."""
    today = timezone.now().astimezone(dt.timezone(dt.timedelta(hours=-12))).date()  # today or yesterday
    return {"amount": f"{amount}", "method": "check", "received_on": f"{today}", "reference": ""} | more


class TestPaymentRecord:
    @pytest.mark.parametrize("who", ["alice", "ken"])
    def test_it_works(self, request, url, accepted_quote, client_of, who):
        person = request.getfixturevalue(who)
        client_of(person).post(url, typed(accepted_quote.deposit, reference="No. 1012"))
        assert accepted_quote.deposit_left == 0
        assert Job.objects.get(pk=accepted_quote.job_id).state == Job.State.DEPOSIT_PAID
        (payment,) = Payment.objects.all()
        assert (payment.entered_by, payment.reference, payment.amount) == (
            person, "No. 1012", accepted_quote.deposit,
        )  # fmt: skip

    @pytest.mark.parametrize("amount", ["0", "-5", "NaN", "1e9", "much", "", "0.001"])
    def test_it_refuses_what_is_no_amount(self, url, accepted_quote, alice, client_of, amount):
        answer = client_of(alice).post(url, typed(amount))
        assert answer.status_code == 422
        assert accepted_quote.deposit_paid == 0

    def test_it_keeps_what_was_typed(self, url, alice, client_of):
        assert 'value="1e9"' in client_of(alice).post(url, typed("1e9")).text

    def test_a_card_number_is_refused(self, url, accepted_quote, alice, client_of):
        answer = client_of(alice).post(url, typed("5", reference="4000 0012 3456 7899"))
        assert answer.status_code == 422
        assert "looks like a card number" in answer.text
        assert accepted_quote.deposit_paid == 0

    def test_the_estimator_is_told_who_may(self, url, erin, client_of):
        answer = client_of(erin).post(url, typed("5"))
        assert answer.status_code == 422
        assert "Only the owner or the bookkeeper" in answer.text

    def test_technicians_may_not(self, url, bob, client_of):
        assert client_of(bob).post(url, typed("5")).status_code == 403

    def test_it_hides_from_a_stranger(self, url, charlie, client_of):
        assert client_of(charlie).post(url, typed("5")).status_code == 404
