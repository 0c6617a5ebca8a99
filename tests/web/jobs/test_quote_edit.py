"""Lines are typed, the sums follow, and nothing is stored until it is saved."""

from __future__ import annotations

from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import pytest
from django.urls import reverse

from jobs.models import LineKind, Quote

pytestmark = pytest.mark.django_db


class FormReader(HTMLParser):
    """Reads what a browser would send back from a page's forms, buttons left out."""

    def __init__(self) -> None:
        super().__init__()
        self.data: dict[str, str] = {}
        self._select = self._textarea = ""
        self._inside_template = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name = found.get("name") or ""
        if tag == "template":
            self._inside_template += 1
        if self._inside_template:
            return
        if tag == "input" and name and found.get("type") not in {"checkbox", "radio"}:
            self.data[name] = found.get("value") or ""
        elif tag == "input" and name and "checked" in found:
            self.data[name] = found.get("value") or "on"
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            if "selected" in found or self._select not in self.data:
                self.data[self._select] = found.get("value") or ""
        elif tag == "textarea":
            self._textarea = name
            self.data[name] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "template":
            self._inside_template -= 1
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._textarea = ""

    def handle_data(self, data: str) -> None:
        if self._textarea and not self._inside_template:
            self.data[self._textarea] += data


@pytest.fixture
def url(draft_quote) -> str:
    """Return the desk of the draft."""
    return reverse("jobs:quote_edit", args=[draft_quote.pk])


def typed(client: Any, url: str, **changes: str) -> dict[str, str]:
    """Return what the page would send back as it stands, with some fields typed over."""
    reader = FormReader()
    reader.feed(client.get(url).text)
    assert set(changes) <= set(reader.data) | {name for name in changes if name in {"save", "preview"}} | {
        name for name in changes if name.endswith(("DELETE", "is_pair", "is_optional"))
    }
    return reader.data | changes


class TestQuoteEdit:
    def test_it_works(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        before = draft_quote.total
        sent = typed(client, url, **{"labour-0-quantity": "2", "save": "yes"})
        assert client.post(url, sent).status_code == 302
        draft_quote.refresh_from_db()
        assert draft_quote.total == before + Decimal("135.00")

    def test_saved_untouched_it_stays_the_same(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        lines = [str(line.amount) + line.text for line in draft_quote.lines.all()]
        assert client.post(url, typed(client, url, save="yes")).status_code == 302
        assert [str(line.amount) + line.text for line in draft_quote.lines.all()] == lines
        total = draft_quote.total
        draft_quote.refresh_from_db()
        assert draft_quote.total == total
        assert draft_quote.scope_items.count() == 16

    def test_a_stock_code_fills_in_the_rest(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        page = typed(client, url)
        empty = next(name for name in page if name.endswith("-sku") and not page[name])
        last = max(
            (name for name in page if name.startswith("parts-") and name.endswith("-sku")),
            key=lambda name: int(name.split("-")[1]),
        )
        assert empty
        assert client.post(url, page | {last: "soft", "save": "yes"}).status_code == 302
        line = draft_quote.lines.get(part__sku="SOFT")
        assert (line.text, line.unit_cost) == ("Soft starter for air conditioner", Decimal(265))
        assert line.amount == Decimal("344.50")  # 265 × 1.30

    def test_the_percent_may_be_meant_as_margin(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        page = typed(client, url, **{"parts-0-is_margin": "1", "save": "yes"})
        client.post(url, page)
        line = draft_quote.lines.get(part__sku="P200")
        assert line.is_margin
        assert line.amount == Decimal("960.00")  # 4 × 168.00 / 0.70
        again = typed(client, url)
        assert again["parts-0-is_margin"] == "1"
        assert again["parts-0-markup"] == "30%"

    def test_a_line_is_struck_out(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        count = draft_quote.lines.filter(kind=LineKind.LABOUR).count()
        client.post(url, typed(client, url, **{"labour-0-DELETE": "on", "save": "yes"}))
        assert draft_quote.lines.filter(kind=LineKind.LABOUR).count() == count - 1

    def test_a_customers_part_has_no_price(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        page = typed(client, url)
        row = f"others-{int(page['others-TOTAL_FORMS']) - 1}"
        mine = {f"{row}-kind": "customer_part", f"{row}-text": "Own panel", f"{row}-unit_price": "300"}
        refused = client.post(url, page | mine | {"save": "yes"})
        assert refused.status_code == 422
        assert "a part the customer brings has no price" in refused.text
        used = mine | {f"{row}-text": "Two used batteries", f"{row}-unit_price": ""}
        assert "used batteries" in client.post(url, page | used | {"save": "yes"}).text
        fine = mine | {f"{row}-unit_price": ""}
        assert client.post(url, page | fine | {"save": "yes"}).status_code == 302
        assert draft_quote.lines.get(kind=LineKind.CUSTOMER_PART).amount == 0


class TestLiveTotals:
    def test_without_save_nothing_is_stored(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        page = typed(client, url, **{"labour-0-quantity": "3"})
        answer = client.post(url, page, headers={"HX-Request": "true"})
        assert answer.status_code == 200
        assert "<html" not in answer.text
        assert f"{draft_quote.total + 270:,.2f}" in answer.text
        assert Quote.objects.get(pk=draft_quote.pk).total == draft_quote.total

    def test_without_script_the_whole_page_answers_and_keeps_it_all(self, url, draft_quote, alice, client_of):
        client = client_of(alice)
        answer = client.post(url, typed(client, url, **{"labour-0-quantity": "3", "preview": "yes"}))
        assert "<html" in answer.text
        assert f"{draft_quote.total + 270:,.2f}" in answer.text
        reader = FormReader()
        reader.feed(answer.text)
        assert reader.data["labour-0-quantity"] == "3"

    def test_what_cannot_be_read_is_named(self, url, alice, client_of):
        client = client_of(alice)
        page = typed(client, url, **{"labour-0-quantity": "lots"})
        answer = client.post(url, page, headers={"HX-Request": "true"})
        assert "Labor row 1, Hours: “lots” is not a number" in answer.text


class TestRefusals:
    @pytest.mark.parametrize(
        ("field", "value", "said"),
        [
            ("labour-0-quantity", "-1", "Hours must be 0 to 999 h; you typed -1."),
            ("labour-0-quantity", "1e9", "Hours must be 0 to 999 h; you typed 1e9."),
            ("labour-0-quantity", "NaN", "Hours: “NaN” is not a number"),
            ("labour-0-unit_price", "1.234", "Rate can have at most 2 decimals; you typed 1.234."),
            ("parts-0-sku", "NOPE", "“NOPE” is not in the catalog"),
            ("parts-0-markup", "2000", "Percent must be 0% to 1000%; you typed 2000%."),
            ("others-1-unit_price", "-5", "only disposal may be below 0"),
            ("deposit_fraction", "140", "Deposit must be 0% to 100%; you typed 140%."),
        ],
    )
    def test_each_names_field_limit_and_unit_and_keeps_what_was_typed(
        self, url, draft_quote, alice, client_of, field, value, said
    ):
        client = client_of(alice)
        answer = client.post(
            url, typed(client, url, **{field: value, "save": "yes", "summary": "Kept words"})
        )
        assert answer.status_code == 422
        assert said in answer.text
        reader = FormReader()
        reader.feed(answer.text)
        assert reader.data[field] == value
        assert reader.data["summary"].strip() == "Kept words"
        assert Quote.objects.get(pk=draft_quote.pk).edits == draft_quote.edits

    def test_a_margin_of_all_is_refused(self, url, alice, client_of):
        client = client_of(alice)
        page = typed(client, url, **{"parts-0-is_margin": "1", "parts-0-markup": "100", "save": "yes"})
        answer = client.post(url, page)
        assert answer.status_code == 422
        assert "a margin must be under 100%" in answer.text

    def test_two_people_do_not_overwrite_each_other(self, url, alice, erin, client_of):
        hers, his = client_of(alice), client_of(erin)
        old = typed(hers, url, **{"labour-0-quantity": "9", "save": "yes"})
        his.post(url, typed(his, url, save="yes"))
        answer = hers.post(url, old)
        assert "Somebody else changed this quote" in answer.text
        reader = FormReader()
        reader.feed(answer.text)
        assert reader.data["labour-0-quantity"] == "9"

    def test_a_sent_quote_has_no_desk(self, sent_quote, alice, client_of):
        answer = client_of(alice).get(reverse("jobs:quote_edit", args=[sent_quote.pk]))
        assert answer.status_code == 302

    @pytest.mark.parametrize("who", ["bob", "lena", "ken"])
    def test_others_may_not(self, request, url, client_of, who):
        assert client_of(request.getfixturevalue(who)).get(url).status_code == 403
