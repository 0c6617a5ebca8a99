"""The quote on paper: what it says, what it must never say, and how it is made."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import Quote
from tests.guests import clean, read
from tests.papers import text_of

pytestmark = pytest.mark.django_db


class TestQuotePdf:
    def test_an_accepted_one_says_all_and_carries_the_name(self, accepted_quote, alice, client_of):
        answer = client_of(alice).get(reverse("jobs:quote_pdf", args=[accepted_quote.pk]))
        assert answer["Content-Type"] == "application/pdf"
        text = text_of(answer.content)
        totals = accepted_quote.snapshot["totals"]
        for amount in (totals["total"], totals["deposit"], totals["tax"], totals["balance"]):
            assert f"${Decimal(amount):,.2f}" in text
        assert "June" in text
        assert "rot and soft roof" in text
        assert accepted_quote.snapshot["valid_until"] in text
        assert "licensed practice" in text
        assert "marine" in text.lower()
        assert "Draft" not in text  # a draft's paper is read where its plan is measured
        assert accepted_quote.snapshot["gap"][:60] in " ".join(text.split())
        assert "Nell Pardee" in text
        assert "signed by typed name" in text

    def test_it_prints_what_was_sent_and_no_cost_of_it(self, odd_costs, sent_quote, client):
        sent_quote.lines.update(text="Rewritten behind the customer's back")
        Quote.objects.filter(pk=sent_quote.pk).update(total=1)
        read(client, sent_quote.token)
        text = text_of(client.get(clean(sent_quote.token, "pdf")).content)
        assert "P200" in text
        assert "Rewritten" not in text
        assert f"${Decimal(sent_quote.snapshot['totals']['total']):,.2f}" in text
        assert not odd_costs(text)
        assert str(sent_quote.direct_cost) not in text.replace(",", "")
        assert not re.search(r"\b(margin|markup)\b", text, re.IGNORECASE)
