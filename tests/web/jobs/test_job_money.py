"""A job's account at the desk, the age list, papers and the month: the same digits everywhere."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.ledger.invoice import invoice_issue
from jobs.ledger.payment import payment_record
from jobs.models import Invoice, Job, Shop
from tests.papers import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(accepted_quote) -> Job:
    """Return a job whose quote was accepted, of a shop whose days are those of the world's clock."""
    Shop.objects.filter(pk=accepted_quote.job.shop_id).update(time_zone="UTC")
    return Job.objects.select_related("shop", "vehicle__customer").get(pk=accepted_quote.job_id)


@pytest.fixture
def invoice(job, ken) -> Invoice:
    """Return an invoice over 1,234.56 that was due twenty days ago."""
    at = timezone.now() - dt.timedelta(days=34)
    return invoice_issue(job=job, kind="deposit", amount=Decimal("1234.56"), actor=ken, at=at)


class TestJobMoney:
    def test_page_paper_and_table_say_the_same(self, job, invoice, ken, client_of):
        payment_record(job=job, amount=Decimal("234.56"), method="bank", actor=ken, at=timezone.now())
        client = client_of(ken)
        page = client.get(reverse("jobs:job_money", args=[job.pk])).text
        ages = client.get(reverse("jobs:money_list")).text
        paper = text_of(client.get(reverse("jobs:invoice_pdf", args=[invoice.pk])).content)
        statement = text_of(client.get(reverse("jobs:statement_pdf", args=[job.pk])).content)
        month = {"month": f"{invoice.issued_on:%Y-%m}"}
        table = client.get(reverse("jobs:money_export"), month).content.decode("utf-8-sig")
        for text in (page, paper, statement):
            assert "$1,234.56" in text
        assert "1234.56" in table
        for text in (page, ages, statement):
            assert "$1,000.00" in text  # what is open
        assert "20 days overdue" in page
        assert "20 days overdue" in ages
        for sum in (invoice.snapshot["untaxed"], *(one["tax"] for one in invoice.snapshot["taxes"])):
            assert f"${Decimal(sum):,.2f}" in paper
            assert sum in table

    def test_an_invoice_is_issued_with_the_next_number(self, job, invoice, ken, client_of):
        url = reverse("jobs:invoice_issue", args=[job.pk])
        due = timezone.now().date() + dt.timedelta(days=30)
        data = {"invoice-kind": "progress", "invoice-amount": "100.00", "invoice-due_on": f"{due}"}
        assert client_of(ken).post(url, data).status_code == 302
        assert Invoice.objects.get(number=2).total == Decimal("100.00")
        answer = client_of(ken).post(url, data | {"invoice-amount": "999999"})
        assert answer.status_code == 422
        assert "more than is left to invoice" in answer.text

    def test_a_final_one_asks_what_of_the_allowance_was_used(self, job, ken, client_of):
        url = reverse("jobs:invoice_issue", args=[job.pk])
        due = timezone.now().date() + dt.timedelta(days=30)
        data = {"invoice-kind": "final", "invoice-due_on": f"{due}"}
        assert "0 if nothing" in client_of(ken).post(url, data).text
        assert client_of(ken).post(url, data | {"invoice-allowance_used": "0"}).status_code == 302

    def test_a_credit_note_and_a_taken_back_payment(self, job, invoice, ken, client_of):
        client = client_of(ken)
        payment = payment_record(job=job, amount=Decimal(5), actor=ken, at=timezone.now())
        note = {"amount": "34.56", "lowers_price": "1", "reason": "Scratched trim"}
        assert client.post(reverse("jobs:credit_note", args=[invoice.pk]), note).status_code == 302
        undo = reverse("jobs:payment_undo", args=[payment.pk])
        assert client.post(undo, {"reason": "Typed twice"}).status_code == 302
        page = client.get(reverse("jobs:job_money", args=[job.pk])).text
        assert "-$34.56" in page
        assert "taken back" in page
        receipt = text_of(client.get(reverse("jobs:receipt_pdf", args=[payment.pk])).content)
        assert "$5.00" in receipt

    def test_the_estimator_looks_and_the_technician_does_not(self, job, invoice, erin, bob, client_of):
        page = client_of(erin).get(reverse("jobs:job_money", args=[job.pk]))
        assert "$1,234.56" in page.text
        assert "New invoice" not in page.text
        for name, args in (("job_money", [job.pk]), ("money_list", []), ("invoice_pdf", [invoice.pk])):
            assert client_of(bob).get(reverse(f"jobs:{name}", args=args)).status_code == 403

    def test_it_hides_from_a_stranger(self, job, invoice, charlie, client_of):
        client = client_of(charlie)
        for name, pk in (("job_money", job.pk), ("invoice_pdf", invoice.pk), ("credit_note", invoice.pk)):
            assert client.get(reverse(f"jobs:{name}", args=[pk])).status_code == 404
        assert "1,234.56" not in client.get(reverse("jobs:money_list")).text
        month = {"month": f"{invoice.issued_on:%Y-%m}"}
        assert "1234.56" not in client.get(reverse("jobs:money_export"), month).text

    def test_before_a_quote_there_is_no_account(self, golden_job, alice, client_of):
        page = client_of(alice).get(reverse("jobs:job_money", args=[golden_job.pk]))
        assert "No money yet" in page.text
        assert client_of(alice).get(reverse("jobs:money_export"), {"month": "soon"}).status_code == 404
