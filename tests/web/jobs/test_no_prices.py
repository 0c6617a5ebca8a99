"""Technicians see hours, never a price, a cost or a margin, wherever they look."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.ledger.payment import deposit_record

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("who", ["bob", "lena"])
@pytest.mark.parametrize(
    "name",
    [
        "jobs:job_detail", "jobs:survey_detail", "jobs:design_list", "jobs:job_papers", "jobs:job_log",
        "checklists:checklist_detail",
    ],
)  # fmt: skip
def test_pages_of_a_job_hold_no_money(request, odd_costs, accepted_quote, alice, now, client_of, who, name):
    deposit_record(job=accepted_quote.job, amount=Decimal("111.11"), actor=alice, at=now)
    answer = client_of(request.getfixturevalue(who)).get(reverse(name, args=[accepted_quote.job_id]))
    assert answer.status_code == 200
    text = re.sub(r"<svg.*?</svg>", "", answer.text, flags=re.DOTALL)
    assert not odd_costs(text)
    for amount in (accepted_quote.total, accepted_quote.deposit, accepted_quote.direct_cost, "111.11"):
        assert f"{amount}" not in text.replace(",", "")


def test_the_design_page_holds_no_money(odd_costs, accepted_quote, bob, client_of):
    url = reverse("jobs:design_detail", args=[accepted_quote.design_id])
    text = re.sub(r"<svg.*?</svg>", "", client_of(bob).get(url).text, flags=re.DOTALL)
    assert not odd_costs(text)


def test_the_owner_reads_the_amounts_in_the_log(accepted_quote, alice, now, client_of):
    deposit_record(job=accepted_quote.job, amount=Decimal("111.11"), actor=alice, at=now)
    assert "111.11" in client_of(alice).get(reverse("jobs:job_log", args=[accepted_quote.job_id])).text
