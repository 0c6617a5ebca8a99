"""What a customer meets behind the link of an offer: options, extras, questions, one answer."""

from __future__ import annotations

import io
import re
from decimal import Decimal

import pytest
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from jobs.models import CustomerMessage, LineKind, Offer, Quote
from jobs.quote.draft import quote_price, scope_of, terms_of
from jobs.quote.lines import LineDraft, draft_of
from jobs.quote.offer import offer_make, offer_send
from jobs.quote.pdf import offer_pdf, quote_pdf
from jobs.shop.logo import LogoRefused, logo_save
from tests.guests import answer, clean, read
from tests.papers import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def offered(draft_quote, alice, now):
    """Return an offer of one option that carries an untaxed extra of 100.00, with its token."""
    extra = LineDraft(LineKind.SUBCONTRACT, "A second outlet", unit_price=Decimal(100), is_optional=True)
    quote_price(
        quote=draft_quote, terms=terms_of(draft_quote), scope=scope_of(draft_quote), edits=draft_quote.edits,
        lines=[*[draft_of(line) for line in draft_quote.lines.all()], extra], actor=alice, at=now,
    )  # fmt: skip
    offer = offer_make(
        job=draft_quote.job, designs=[draft_quote.design], recommended=draft_quote.design, actor=alice, at=now
    )
    _, token = offer_send(offer=offer, actor=alice, at=now, reason="Looked at together")
    quote = Quote.objects.get(pk=draft_quote.pk)
    quote.token, quote.place = token, quote.lines.get(is_optional=True).position
    return quote


def yes(quote: Quote, **changes: str) -> dict[str, str]:
    return {
        "signed_name": "Nell Pardee", "is_typed": "on", "option": str(quote.number),
        "content_sha256": Offer.objects.get().content_sha256, "shown_total": str(quote.total),
    } | changes  # fmt: skip


class TestReading:
    def test_the_gap_the_words_and_the_bar_stand_on_it(self, offered, client):
        page = read(client, offered.token)
        assert page.status_code == 200
        text = page.text
        assert text.index("To say it first:") < text.index("Your roof")
        assert "We recommend this" in text
        assert 'class="guest-bar"' in text
        assert 'style="' not in text

    def test_a_number_of_no_option_shows_the_recommended(self, offered, client):
        read(client, offered.token)
        for asked in ("99", "x", "-1", "9" * 30):
            assert client.get(clean(offered.token), {"option": asked}).status_code == 200

    def test_the_total_follows_the_extras_without_a_script(self, offered, client):
        """On paper: the extra of 100.00 is not taxed; what was typed so far stays."""
        read(client, offered.token)
        page = client.post(
            clean(offered.token, "total"), {"extra": str(offered.place), "signed_name": "Nell Pardee"}
        )
        assert f"{offered.total + 100:,}" in page.text
        assert 'value="Nell Pardee"' in page.text
        assert re.search(r'name="extra"[^>]*checked', page.text)
        assert Quote.objects.get(pk=offered.pk).state == "sent"

    def test_the_paper_holds_all_options(self, offered, client):
        read(client, offered.token)
        text = " ".join(text_of(client.get(clean(offered.token, "pdf")).content).split())
        assert "I choose:" in text
        assert f"{offered.total:,}" in text


class TestAnswering:
    def test_a_yes_takes_the_extras_ticked(self, offered, client):
        total = offered.total + 100
        data = yes(offered, extra=str(offered.place), shown_total=str(total))
        assert answer(client, offered.token, "accept", data).status_code == 302
        quote = Quote.objects.get(pk=offered.pk)
        assert (quote.state, quote.owed_total, quote.chosen_positions) == ("accepted", total, [offered.place])
        page = read(client, offered.token)
        assert "Accepted by Nell Pardee" in page.text
        assert f"{total:,}" in page.text

    def test_a_yes_under_another_sum_shows_the_new_one(self, offered, client):
        page = answer(client, offered.token, "accept", yes(offered, extra=str(offered.place)))
        assert page.status_code == 422
        assert "the one with what you ticked" in page.text
        assert f"{offered.total + 100:,}" in page.text
        assert 'value="Nell Pardee"' in page.text
        assert Quote.objects.get(pk=offered.pk).state == "sent"

    def test_a_no_may_say_what_it_mostly_was(self, offered, client):
        data = {"no-signed_name": "Nell Pardee", "no-reason": "Too dear", "no-lost_reason": "price"}
        assert answer(client, offered.token, "decline", data).status_code == 302
        assert Quote.objects.get(pk=offered.pk).lost_reason == "price"


class TestAsking:
    def test_question_and_answer_stand_on_both_pages(self, offered, client, alice, client_of):
        data = {"ask-kind": "question", "ask-name": "Nell", "ask-text": "Does the fan still open?"}
        assert answer(client, offered.token, "ask", data).status_code == 302
        desk = client_of(alice)
        page = desk.get(reverse("jobs:quote_detail", args=[offered.pk]))
        assert "Does the fan still open?" in page.text
        desk.post(reverse("jobs:message_answer", args=[offered.pk]), {"text": "It does."})
        assert "It does." in read(client, offered.token).text

    def test_what_is_not_from_our_page_is_not_taken(self, offered, client):
        read(client, offered.token)
        data = {"ask-kind": "question", "ask-name": "Nell", "ask-text": "When?"}
        assert client.post(clean(offered.token, "ask"), data).status_code == 422
        assert not CustomerMessage.objects.exists()

    def test_a_stranger_answers_nothing(self, offered, charlie, client_of):
        url = reverse("jobs:message_answer", args=[offered.pk])
        assert client_of(charlie).post(url, {"text": "Hello"}).status_code == 404


class TestDesk:
    def test_an_offer_is_put_together_named_and_sent(self, draft_quote, alice, client_of):
        desk = client_of(alice)
        job, design = draft_quote.job, draft_quote.design
        assert desk.get(reverse("jobs:offer_create", args=[job.pk])).status_code == 200
        made = desk.post(
            reverse("jobs:offer_create", args=[job.pk]), {"designs": [design.pk], "recommended": design.pk}
        )
        offer = Offer.objects.get()
        assert made.url == reverse("jobs:offer_detail", args=[offer.pk])
        words = {f"name_{draft_quote.pk}": "Evening", f"purpose_{draft_quote.pk}": "", "recommended": ""}
        desk.post(reverse("jobs:offer_change", args=[offer.pk]), words)
        assert "Evening" in desk.get(reverse("jobs:offer_detail", args=[offer.pk])).text
        sent = desk.post(reverse("jobs:offer_send", args=[offer.pk]), {"reason": "Looked at together"})
        assert "/q/" in sent.text

    def test_more_than_one_of_a_plan_is_refused_with_words(self, draft_quote, alice, client_of):
        page = client_of(alice).post(reverse("jobs:offer_create", args=[draft_quote.job.pk]), {"designs": []})
        assert page.status_code == 422
        assert "Choose one to three designs" in page.text

    def test_others_are_kept_out(self, offered, bob, charlie, client_of):
        offer = Offer.objects.get()
        assert client_of(bob).get(reverse("jobs:offer_detail", args=[offer.pk])).status_code == 403
        assert client_of(charlie).get(reverse("jobs:offer_detail", args=[offer.pk])).status_code == 404


class TestLogo:
    def test_it_is_made_small_and_stands_on_the_page(self, offered, client, alice, now):
        big = io.BytesIO()
        Image.new("RGB", (2000, 500), "navy").save(big, "PNG")
        big.seek(0)
        logo = logo_save(shop=offered.job.shop, file=big, actor=alice, at=now)
        assert (logo.width, logo.height) == (480, 120)
        assert "logo.png" in read(client, offered.token).text
        assert client.get(clean(offered.token, "logo"))["Content-Type"] == "image/png"

    @pytest.mark.parametrize("content", [b"", b"<svg onload=alert(1)>", b"\x89PNG\r\n\x1a\n" + b"x" * 50])
    def test_what_is_no_picture_is_refused(self, offered, alice, now, content):
        with pytest.raises(LogoRefused):
            logo_save(shop=offered.job.shop, file=io.BytesIO(content), actor=alice, at=now)


class TestPages:
    """Two pages for one option, four for three, on both papers."""

    @pytest.mark.parametrize("paper", ["letter", pytest.param("a4", marks=pytest.mark.full)])
    def test_one_option_of_25_lines_takes_two_pages_and_three_take_four(self, offered, paper):
        line = offered.snapshot["lines"][0]
        offered.snapshot["shop"]["paper"] = paper
        offered.snapshot["lines"] = [line | {"text": f"{line['text']}, part {place}"} for place in range(25)]
        comparison = Offer.objects.get().snapshot
        comparison["options"] *= 3
        comparison["rows"] = [(label, texts * 3) for label, texts in comparison["rows"]]
        one = quote_pdf(offered, offered.snapshot)
        three = offer_pdf(offered, [offered] * 3, comparison)
        assert len(PdfReader(io.BytesIO(one)).pages) <= 2
        assert len(PdfReader(io.BytesIO(three)).pages) <= 4
