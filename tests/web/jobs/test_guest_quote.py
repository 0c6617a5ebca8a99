"""What a customer meets behind the link: the quote, the answer, and nothing of the house."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import GuestLink, Job, Quote
from jobs.quote.send import quote_withdraw
from jobs.views import guest

pytestmark = pytest.mark.django_db

INK = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 176" width="340" height="176">'
    '<path d="M 30.000,80.000 C 35.000,86.000 35.000,86.000 40.000,92.000" stroke-width="2.5" stroke="#000"'
    ' fill="none" stroke-linecap="round"></path></svg>'
)


def page(quote: Quote) -> str:
    return reverse("jobs:guest_quote", args=[quote.token])


def yes(quote: Quote, **changes: str) -> dict[str, str]:
    return {
        "signed_name": "Nell Pardee", "signature_svg": INK, "content_sha256": quote.content_sha256,
    } | changes  # fmt: skip


def accept(client: Client, quote: Quote, **changes: str):
    return client.post(reverse("jobs:guest_quote_accept", args=[quote.token]), yes(quote, **changes))


class TestReading:
    def test_it_works_without_a_sign_in(self, sent_quote, client):
        answer = client.get(page(sent_quote))
        assert answer.status_code == 200
        assert "Nell and Gus Pardee" in answer.text
        assert f"{sent_quote.total:,}" in answer.text
        assert "Included and not included" in answer.text

    def test_it_says_what_the_customer_decides_and_keeps_the_desk_at_the_desk(self, sent_quote, client):
        """The golden design also carries cautions on interrupting ratings, feet and the way to walk."""
        answer = client.get(page(sent_quote))
        assert "Days without charging" in answer.text
        for words in ("interrupting", "most loaded foot", "too narrow", "Technical cautions", "schedule"):
            assert words not in answer.text

    def test_what_an_older_document_says_is_still_shown(self, sent_quote, client):
        sent_quote.snapshot["findings"].append(
            {"verdict": "caution", "title": "Fuse", "sentence": "An older word.", "is_plain": False}
        )
        sent_quote.save()
        answer = client.get(page(sent_quote))
        assert "Technical cautions" in answer.text
        assert "An older word." in answer.text

    def test_it_is_kept_out_of_referrers_search_and_caches(self, sent_quote, client):
        answer = client.get(page(sent_quote))
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer["X-Robots-Tag"]
        assert "no-store" in answer["Cache-Control"]

    def test_opening_it_accepts_nothing_and_is_noted(self, sent_quote, client):
        client.get(page(sent_quote))
        for name in ("guest_quote_accept", "guest_quote_decline"):
            url = reverse(f"jobs:{name}", args=[sent_quote.token])
            assert client.get(url, yes(sent_quote)).status_code == 405
            assert client.head(url).status_code == 405
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent
        assert sent_quote.first_viewed_at is not None
        assert GuestLink.objects.get().last_used_at is not None

    def test_no_cost_no_margin_and_no_way_into_the_house(self, odd_costs, sent_quote, client):
        text = client.get(page(sent_quote)).text
        words = re.sub(r"<svg.*?</svg>", "", text, flags=re.DOTALL)
        assert "Rigid panel P200" in words
        assert not odd_costs(words)
        assert str(sent_quote.direct_cost) not in words.replace(",", "")
        assert not re.search(r"\b(margin|markup)\b", words, re.IGNORECASE)
        assert "/jobs/" not in words
        assert "/catalogue/" not in words

    def test_it_shows_what_was_sent_not_what_the_records_became(self, sent_quote, client):
        sent_quote.lines.update(text="Rewritten")
        assert "Rewritten" not in client.get(page(sent_quote)).text

    def test_days_are_the_shops_days(self, accepted_quote, client):
        # 05:00 UTC on November 26 is still the evening of November 25 in Denver.
        Quote.objects.update(answered_at=dt.datetime(2026, 11, 26, 5, 0, tzinfo=dt.UTC))
        assert "Accepted by Nell Pardee on Nov 25, 2026" in client.get(page(accepted_quote)).text

    def test_it_takes_few_queries(self, sent_quote, client, django_assert_max_num_queries):
        with django_assert_max_num_queries(6):
            client.get(page(sent_quote))


class TestWrongLinks:
    def test_an_unknown_token_learns_nothing(self, sent_quote, client):
        answer = client.get("/q/" + "x" * 43 + "/")
        assert answer.status_code == 404
        assert "cannot find this page" in answer.text
        assert sent_quote.job.shop.name not in answer.text

    def test_one_taken_back_looks_unknown(self, sent_quote, client):
        GuestLink.objects.update(revoked_at=timezone.now())
        answer = client.get(page(sent_quote))
        assert answer.status_code == 404
        assert "Pardee" not in answer.text

    def test_one_that_ran_out_says_so_kindly(self, sent_quote, client):
        GuestLink.objects.update(expires_at=timezone.now() - dt.timedelta(minutes=1))
        answer = client.get(page(sent_quote))
        assert answer.status_code == 410
        assert "This link has expired" in answer.text
        assert "ask Test Coach Solar" in answer.text
        assert "Pardee" not in answer.text
        assert accept(client, sent_quote).status_code == 410

    def test_a_quote_link_opens_no_change_order(self, sent_quote, client):
        assert client.get(reverse("jobs:guest_change", args=[sent_quote.token])).status_code == 404

    def test_guessing_is_throttled(self, sent_quote, client):
        answers = [client.get(f"/q/guess-{number}/").status_code for number in range(guest.WRONG_TOKENS + 2)]
        assert answers[0] == 404
        assert answers[-1] == 429

    def test_reading_is_throttled(self, sent_quote, client, monkeypatch):
        monkeypatch.setattr(guest, "PAGES_A_MINUTE", 2)
        answers = [client.get(page(sent_quote)).status_code for _ in range(3)]
        assert answers == [200, 200, 429]

    def test_answering_is_throttled(self, sent_quote, client):
        answers = [accept(client, sent_quote, signed_name="").status_code for _ in range(guest.ANSWERS + 1)]
        assert answers[0] == 422
        assert answers[-1] == 429
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent


class TestAccepting:
    def test_it_works_with_ink(self, sent_quote, client):
        assert accept(client, sent_quote).status_code == 302
        sent_quote.refresh_from_db()
        assert sent_quote.is_accepted
        assert sent_quote.accepted_by_name == "Nell Pardee"
        assert "<path" in sent_quote.signature_svg
        assert Job.objects.get(pk=sent_quote.job_id).state == Job.State.ACCEPTED
        assert "Accepted by Nell Pardee" in client.get(page(sent_quote)).text

    def test_it_works_with_a_typed_name(self, sent_quote, client):
        accept(client, sent_quote, signature_svg="", is_typed="on")
        sent_quote.refresh_from_db()
        assert sent_quote.is_accepted
        assert sent_quote.signature_svg == ""

    def test_it_needs_ink_or_the_tick_and_keeps_the_name(self, sent_quote, client):
        answer = accept(client, sent_quote, signature_svg="")
        assert answer.status_code == 422
        assert "Please draw your signature" in answer.text
        assert 'value="Nell Pardee"' in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_it_needs_a_name(self, sent_quote, client):
        answer = accept(client, sent_quote, signed_name="")
        assert "Please type your full name" in answer.text

    def test_nothing_but_strokes_is_kept_of_the_ink(self, sent_quote, client):
        dirty = INK.replace("<path", '<script>alert(1)</script><a href="javascript:x"><path onload="x"')
        accept(client, sent_quote, signature_svg=dirty)
        sent_quote.refresh_from_db()
        assert sent_quote.is_accepted
        for bad in ("script", "onload", "href"):
            assert bad not in sent_quote.signature_svg

    def test_it_is_bound_to_what_was_shown(self, sent_quote, client):
        answer = accept(client, sent_quote, content_sha256="0" * 64)
        assert answer.status_code == 422
        assert "has changed since you opened it" in answer.text

    def test_day_31_is_too_late(self, sent_quote, client):
        Quote.objects.update(valid_until_date=timezone.localdate() - dt.timedelta(days=2))
        assert "ask us to price it again" in client.get(page(sent_quote)).text
        answer = accept(client, sent_quote)
        assert answer.status_code == 422
        assert "price it again" in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_one_taken_back_is_too_late(self, sent_quote, alice, now, client):
        quote_withdraw(quote=sent_quote, reason="Wrong panels", actor=alice, at=now)
        assert accept(client, sent_quote).status_code == 422
        assert "replaced by another" in accept(client, sent_quote).text
        assert "Your answer" not in client.get(page(sent_quote)).text

    def test_twice_is_once(self, sent_quote, client):
        accept(client, sent_quote)
        answer = accept(client, sent_quote)
        assert answer.status_code == 422
        assert Job.objects.get(pk=sent_quote.job_id).moves.filter(to_state="accepted").count() == 1

    def test_a_browser_that_hides_its_origin_can_answer(self, sent_quote):
        # A page that asks for no referrer makes browsers send "Origin: null" with its forms.
        strict = Client(enforce_csrf_checks=True)
        answer = strict.post(
            reverse("jobs:guest_quote_accept", args=[sent_quote.token]),
            yes(sent_quote),
            headers={"Origin": "null"},
        )
        assert answer.status_code == 302


class TestDeclining:
    def test_it_works(self, sent_quote, client):
        url = reverse("jobs:guest_quote_decline", args=[sent_quote.token])
        answer = client.post(url, {"no-signed_name": "Gus Pardee", "no-reason": "Too dear this year"})
        assert answer.status_code == 302
        sent_quote.refresh_from_db()
        assert sent_quote.state == Quote.State.DECLINED
        assert "Too dear this year" in sent_quote.answer_note
        assert "is declined" in client.get(page(sent_quote)).text

    def test_it_wants_a_reason_and_keeps_the_name(self, sent_quote, client):
        url = reverse("jobs:guest_quote_decline", args=[sent_quote.token])
        answer = client.post(url, {"no-signed_name": "Gus Pardee", "no-reason": ""})
        assert answer.status_code == 422
        assert 'value="Gus Pardee"' in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent
