"""Prices that are missing, asked for on the page of the draft."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import Part
from jobs.quote.draft import quote_create
from tests.web.jobs.test_quote_edit import typed as typed_over

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(draft_quote, alice, now):
    """Return a second draft, in which two fuses and the old batteries have no price yet."""
    return quote_create(design=draft_quote.design, actor=alice, at=now)


def url(name: str, quote) -> str:
    return reverse(f"jobs:{name}", args=[quote.pk])


def asked(quote) -> list:
    return [line for line in quote.lines.all() if line.is_unpriced]


def typed(quote, amount: str) -> dict[str, str]:
    return {"edits": str(quote.edits)} | {f"price-{line.pk}": amount for line in asked(quote)}


def test_the_page_asks_for_each(quote, alice, client_of):
    text = client_of(alice).get(url("quote_detail", quote)).text
    assert "Prices missing" in text
    assert text.count("price missing</span>") == len(asked(quote)) == 3
    assert "Not enough data" in text  # the margin
    assert "Price missing: Fuse or breaker 70 A" in text


def test_what_is_typed_goes_into_quote_and_catalog(quote, alice, client_of):
    page = client_of(alice).post(url("quote_prices", quote), typed(quote, "1,012.50"), follow=True)
    assert "is priced anew" in page.text
    assert "Prices missing" not in page.text
    assert Part.objects.get(name="Fuse or breaker 60 A").cost == Decimal("1012.50")


def test_an_amount_that_cannot_be_is_named_and_kept(quote, alice, client_of):
    page = client_of(alice).post(url("quote_prices", quote), typed(quote, "about ten"))
    assert page.status_code == 422
    assert "Fuse or breaker 60 A: “about ten” is not a number." in page.text
    assert page.text.count('value="about ten"') == 3


def test_empty_fields_stay_missing(quote, alice, client_of):
    client_of(alice).post(url("quote_prices", quote), typed(quote, ""), follow=True)
    assert len(asked(quote)) == 3


def test_nobody_else_may(quote, bob, charlie, client_of):
    assert client_of(bob).post(url("quote_prices", quote), typed(quote, "5")).status_code == 403
    assert client_of(charlie).post(url("quote_prices", quote), typed(quote, "5")).status_code == 404
    assert len(asked(quote)) == 3


def test_a_line_is_declared_free_on_the_desk(quote, alice, client_of):
    client, where = client_of(alice), url("quote_edit", quote)
    page = typed_over(client, where, save="yes")
    (row,) = (name.removesuffix("-kind") for name, value in page.items() if value == "disposal")
    answer = client.post(where, page | {f"{row}-free_reason": "goodwill", f"{row}-unit_price": "5"})
    assert "Free because: this line has a price." in answer.text
    assert client.post(where, page | {f"{row}-free_reason": "goodwill"}).status_code == 302
    line = quote.lines.get(kind="disposal")
    assert (line.free_reason, line.amount, line.is_unpriced) == ("goodwill", 0, False)
    assert "free: goodwill" in client.get(url("quote_detail", quote)).text
    assert client.post(where, typed_over(client, where, save="yes")).status_code == 302  # and stays so
    assert quote.lines.get(kind="disposal").free_reason == "goodwill"


def test_a_part_is_marked_up_by_bands_on_the_desk(quote, alice, client_of):
    client, where = client_of(alice), url("quote_edit", quote)
    page = typed_over(client, where, save="yes")
    (row,) = (name.removesuffix("-sku") for name, value in page.items() if value == "I2000")
    assert client.post(where, page | {f"{row}-is_margin": "bands"}).status_code == 302
    line = quote.lines.get(part__sku="I2000")
    assert (line.is_banded, line.markup) == (True, None)
    assert line.unit_price == 80 + (line.unit_cost - 50) * Decimal("1.40")
    assert "by bands" in client.get(url("quote_detail", quote)).text
