"""A change order from the find to the signature, for each kind of person."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.urls import reverse

from jobs.models import ChangeOrder, LineKind
from jobs.quote.change_order import ChangeFacts, change_order_create
from jobs.quote.lines import LineDraft, Rates, labour
from tests.guests import answer, clean, read

pytestmark = pytest.mark.django_db

RATES = Rates(Decimal(135), Decimal(215), Decimal(62), Decimal("0.70"), Decimal("0.30"))
EMPTY_SETS = {
    f"{prefix}-{name}": value
    for prefix in ("labour", "parts", "others")
    for name, value in (("TOTAL_FORMS", "1"), ("INITIAL_FORMS", "0"))
}
ROT = {
    "cause": "Soft 0.6 m² beside the bath vent, moisture 27 %", "found_by_name": "Bob Test",
    "locked_phases": ["C", "D", "E"], "schedule_days": "1", "is_safety_critical": "on",
}  # fmt: skip
PRICED = ROT | EMPTY_SETS | {
    "credits_allowance": "250", "minimum_fee": "45",
    "labour-0-code": "L26", "labour-0-text": "Rot repair", "labour-0-quantity": "4",
    "parts-0-text": "Ply and resin", "parts-0-quantity": "1", "parts-0-unit_cost": "92",
}  # fmt: skip


@pytest.fixture(autouse=True)
def no_counts_from_other_tests():
    """Begin with nothing counted against this address."""
    cache.clear()


@pytest.fixture
def order(accepted_quote, alice, now) -> ChangeOrder:
    """Return a priced change order of 668.87."""
    lines = [
        labour("L26", "Rot repair", Decimal(4), RATES),
        LineDraft(LineKind.PART, "Ply and resin", unit_cost=Decimal(92), markup=Decimal("0.30")),
    ]
    facts = ChangeFacts(
        "Soft roof", "Bob Test", ("C", "D", "E"), Decimal(250), schedule_days=1, is_safety_critical=True
    )
    return change_order_create(job=accepted_quote.job, facts=facts, lines=lines, actor=alice, at=now)


def at(name: str, order: ChangeOrder) -> str:
    return reverse(f"jobs:{name}", args=[order.pk])


def new_url(quote) -> str:
    return reverse("jobs:change_order_create", args=[quote.job_id])


class TestChangeOrderCreate:
    def test_it_works(self, accepted_quote, alice, client_of):
        client = client_of(alice)
        assert client.get(new_url(accepted_quote)).status_code == 200
        assert client.post(new_url(accepted_quote), PRICED | {"save": "yes"}).status_code == 302
        order = ChangeOrder.objects.get()
        assert order.total == Decimal("668.87")  # 4 × 135 + 92 × 1.30 + 0.0775 × 119.60
        assert order.credits_allowance == Decimal(250)
        assert order.is_waiting

    def test_the_sums_follow_what_is_typed(self, accepted_quote, alice, client_of):
        answer = client_of(alice).post(new_url(accepted_quote), PRICED, headers={"HX-Request": "true"})
        assert "$668.87" in answer.text
        assert f"${accepted_quote.total + Decimal('418.87'):,}" in answer.text
        assert not ChangeOrder.objects.exists()

    def test_a_technician_reports_it_without_prices(self, accepted_quote, bob, client_of):
        client = client_of(bob)
        text = client.get(new_url(accepted_quote)).text
        assert "Cost each" not in text
        assert client.post(new_url(accepted_quote), ROT | PRICED).status_code == 302
        order = ChangeOrder.objects.get()
        assert order.total == 0  # what a technician sends along as a price is not read
        assert order.locked_phases == ["C", "D", "E"]
        text = client.get(at("change_order_detail", order)).text
        assert "Soft 0.6" in text
        assert "This change" not in text
        assert "$" not in text

    def test_it_names_what_is_wrong_and_keeps_the_words(self, accepted_quote, alice, client_of):
        bad = PRICED | {"schedule_days": "900", "labour-0-quantity": "x", "save": "yes"}
        answer = client_of(alice).post(new_url(accepted_quote), bad)
        assert answer.status_code == 422
        assert "must be -60 to 365 days" in answer.text
        assert "is not a number" in answer.text
        assert "Soft 0.6 m² beside the bath vent" in answer.text

    def test_more_allowance_than_there_is_is_refused(self, accepted_quote, alice, client_of):
        answer = client_of(alice).post(
            new_url(accepted_quote), PRICED | {"credits_allowance": "251", "save": "yes"}
        )
        assert "of the accepted allowances is left" in answer.text
        assert not ChangeOrder.objects.exists()

    def test_it_hides_from_a_stranger(self, accepted_quote, charlie, client_of):
        assert client_of(charlie).get(new_url(accepted_quote)).status_code == 404


class TestChangeOrderDetail:
    def test_it_works(self, order, alice, client_of, django_assert_max_num_queries):
        client = client_of(alice)
        with django_assert_max_num_queries(12):
            text = client.get(at("change_order_detail", order)).text
        assert "$668.87" in text
        assert "Locked until the customer signs" in text

    def test_its_lines_stand_by_kind_with_hours_and_sums(self, order, alice, client_of):
        groups = client_of(alice).get(at("change_order_detail", order)).context["groups"]
        # 4 h at 135.00; parts of 92.00 with 30 % on them.
        assert [(group.is_labour, group.hours, group.amount) for group in groups] == [
            (True, 4, Decimal("540.00")),
            (False, 1, Decimal("119.60")),
        ]
        assert [line.text for group in groups for line in group.lines] == ["Rot repair", "Ply and resin"]

    def test_it_is_priced_anew(self, order, alice, client_of):
        client = client_of(alice)
        assert client.get(at("change_order_edit", order)).status_code == 200
        client.post(at("change_order_edit", order), PRICED | {"labour-0-quantity": "5", "save": "yes"})
        order.refresh_from_db()
        assert order.subtotal == Decimal("794.60")

    def test_a_word_on_the_phone_opens_nothing(self, order, bob, client_of):
        page = client_of(bob).post(
            at("change_order_verbal", order), {"said_by": "Nell Pardee", "through": "phone"}, follow=True
        )
        assert "that does not unlock the work" in page.text
        order.refresh_from_db()
        assert order.is_verbal
        assert order.is_waiting

    def test_taken_back_with_a_reason(self, order, alice, client_of):
        client = client_of(alice)
        client.post(at("change_order_withdraw", order), {"reason": ""})
        order.refresh_from_db()
        assert order.is_open
        client.post(at("change_order_withdraw", order), {"reason": "Only a stain"})
        order.refresh_from_db()
        assert not order.is_waiting

    def test_only_the_owner_decides_on_a_refusal(self, order, alice, erin, client_of):
        client = client_of(alice)
        client.post(
            at("change_order_decline", order), {"no-signed_name": "Nell Pardee", "no-reason": "Not now"}
        )
        order.refresh_from_db()
        assert order.needs_owner
        url = at("change_order_decide", order)
        assert client_of(erin).post(url, {"decision": "Go on with the refusal in writing"}).status_code == 403
        client.post(url, {"decision": "short"})
        order.refresh_from_db()
        assert order.needs_owner
        client.post(url, {"decision": "Go on with the refusal in writing"})
        order.refresh_from_db()
        assert not order.is_waiting

    def test_it_hides_from_a_stranger(self, order, charlie, client_of):
        client = client_of(charlie)
        for name in ("change_order_detail", "change_order_edit", "change_order_sign"):
            assert client.get(at(name, order)).status_code == 404
        for name in (
            "change_order_send",
            "change_order_verbal",
            "change_order_withdraw",
            "change_order_decide",
        ):
            assert client.post(at(name, order)).status_code == 404


class TestSigning:
    @pytest.fixture
    def token(self, order, alice, client_of) -> str:
        """Return the token of its link."""
        page = client_of(alice).post(at("change_order_send", order))
        order.refresh_from_db()
        return re.search(r"http://testserver/c/([\w-]+)/", page.text)[1]

    def test_by_link(self, order, token, client):
        text = read(client, token, "change").text
        assert "$668.87" in text
        assert "Soft roof" in text
        assert "spoken yes is recorded but does not start the work" in text
        yes = {"signed_name": "Nell Pardee", "is_typed": "on", "content_sha256": order.content_sha256}
        assert answer(client, token, "accept", yes, "change").status_code == 302
        order.refresh_from_db()
        assert order.is_accepted
        assert not order.is_waiting
        assert "Accepted" in read(client, token, "change").text

    def test_no_cost_stands_on_the_page(self, order, token, client):
        text = read(client, token, "change").text
        for cost in ("92.00", "62.00", "124.00"):
            assert cost not in text

    def test_declined_by_link(self, order, token, client):
        no = {"no-signed_name": "Nell Pardee", "no-reason": "We sell it in spring"}
        answer(client, token, "decline", no, "change")
        order.refresh_from_db()
        assert order.needs_owner

    def test_opening_it_signs_nothing(self, order, token, client):
        assert read(client, token, "change").status_code == 200
        assert client.get(clean(token, "accept"))["Location"] == clean(token)
        assert client.get(clean(token, "pdf"))["Location"] == clean(token)  # a change order has none
        order.refresh_from_db()
        assert order.is_open

    def test_on_our_own_screen(self, order, alice, client_of):
        client = client_of(alice)
        assert "$668.87" in client.get(at("change_order_sign", order)).text
        order.refresh_from_db()
        yes = {"signed_name": "Nell Pardee", "is_typed": "on", "content_sha256": order.content_sha256}
        assert client.post(at("change_order_sign", order), yes).status_code == 302
        order.refresh_from_db()
        assert order.is_accepted
        assert order.answered_through == "in person"

    def test_technicians_show_no_prices(self, order, bob, client_of):
        assert client_of(bob).get(at("change_order_sign", order)).status_code == 403
