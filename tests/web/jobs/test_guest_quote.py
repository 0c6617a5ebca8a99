"""What a customer meets behind the link: the quote, the answer, and nothing of the house."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.core import signing
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import GuestLink, Job, Quote
from jobs.quote.guest_link import token_sha256
from jobs.quote.send import quote_withdraw
from jobs.views import guest_door
from tests.guests import answer as send
from tests.guests import clean, letter, read, word_of

pytestmark = pytest.mark.django_db

INK = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 176" width="340" height="176">'
    '<path d="M 30.000,80.000 C 35.000,86.000 35.000,86.000 40.000,92.000" stroke-width="2.5" stroke="#000"'
    ' fill="none" stroke-linecap="round"></path></svg>'
)


def yes(quote: Quote, **changes: str) -> dict[str, str]:
    return {
        "signed_name": "Nell Pardee", "signature_svg": INK, "content_sha256": quote.content_sha256,
    } | changes  # fmt: skip


def accept(client: Client, quote: Quote, **changes: str):
    return send(client, quote.token, "accept", yes(quote, **changes))


class TestReading:
    def test_it_works_without_a_sign_in(self, sent_quote, client):
        answer = read(client, sent_quote.token)
        assert answer.status_code == 200
        assert "Nell and Gus Pardee" in answer.text
        assert f"{sent_quote.total:,}" in answer.text
        assert "Included and not included" in answer.text

    def test_it_says_what_the_customer_decides_and_keeps_the_desk_at_the_desk(self, sent_quote, client):
        """The golden design also carries cautions on interrupting ratings, feet and the way to walk."""
        answer = read(client, sent_quote.token)
        assert "You asked for 1.5 days without sun; this gives" in answer.text
        for words in (
            "Days without charging",
            "interrupting",
            "most loaded foot",
            "too narrow",
            "Technical cautions",
            "schedule",
        ):
            assert words not in answer.text

    def test_what_an_older_document_says_is_still_shown(self, sent_quote, client):
        sent_quote.snapshot["findings"].append(
            {"verdict": "caution", "title": "Fuse", "sentence": "An older word.", "is_plain": False}
        )
        sent_quote.save()
        answer = read(client, sent_quote.token)
        assert "Technical cautions" in answer.text
        assert "An older word." in answer.text

    def test_it_is_kept_out_of_referrers_search_and_caches(self, sent_quote, client):
        answer = read(client, sent_quote.token)
        assert answer["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer["X-Robots-Tag"]
        assert "no-store" in answer["Cache-Control"]

    def test_opening_it_accepts_nothing_and_is_noted(self, sent_quote, client):
        read(client, sent_quote.token)
        for act in ("accept", "decline"):
            url = clean(sent_quote.token, act)
            for ask in (client.get, client.head):  # a page to read, not a blank one
                assert ask(url, yes(sent_quote))["Location"] == clean(sent_quote.token)
            for ask in (client.get, client.head, client.post):  # as a letter of an older release had it
                old = f"/q/{sent_quote.token}/{act}/"
                assert ask(old, yes(sent_quote))["Location"] == clean(sent_quote.token)
            assert client.put(url).status_code == 405
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent
        assert sent_quote.first_viewed_at is not None
        assert GuestLink.objects.get().last_used_at is not None

    def test_no_cost_no_margin_and_no_way_into_the_house(self, odd_costs, sent_quote, client):
        text = read(client, sent_quote.token).text
        words = re.sub(r"<svg.*?</svg>", "", text, flags=re.DOTALL)
        assert "Rigid panel P200" in words
        assert not odd_costs(words)
        assert str(sent_quote.direct_cost) not in words.replace(",", "")
        assert not re.search(r"\b(margin|markup)\b", words, re.IGNORECASE)
        assert "/jobs/" not in words
        assert "/catalogue/" not in words

    def test_it_shows_what_was_sent_not_what_the_records_became(self, sent_quote, client):
        sent_quote.lines.update(text="Rewritten")
        assert "Rewritten" not in read(client, sent_quote.token).text

    def test_days_are_the_shops_days(self, accepted_quote, client):
        # 05:00 UTC on November 26 is still the evening of November 25 in Denver.
        Quote.objects.update(answered_at=dt.datetime(2026, 11, 26, 5, 0, tzinfo=dt.UTC))
        assert "Accepted by Nell Pardee on Nov 25, 2026" in read(client, accepted_quote.token).text

    def test_it_takes_few_queries(self, sent_quote, client, django_assert_max_num_queries):
        with django_assert_max_num_queries(7):
            read(client, sent_quote.token)


class TestWrongLinks:
    def test_an_unknown_token_learns_nothing(self, sent_quote, client):
        answer = client.get("/q/" + "x" * 43 + "/")
        assert answer.status_code == 404
        assert "cannot find this page" in answer.text
        assert sent_quote.job.shop.name not in answer.text

    def test_one_taken_back_looks_unknown(self, sent_quote, client):
        GuestLink.objects.update(revoked_at=timezone.now())
        answer = read(client, sent_quote.token)
        assert answer.status_code == 404
        assert "Pardee" not in answer.text

    def test_one_that_ran_out_says_so_kindly(self, sent_quote, client):
        read(client, sent_quote.token)
        GuestLink.objects.update(expires_at=timezone.now() - dt.timedelta(minutes=1))
        for answer in (read(client, sent_quote.token), client.get(clean(sent_quote.token))):
            assert answer.status_code == 410
            assert "This link has expired" in answer.text
            assert "ask Test Coach Solar" in answer.text
            assert "Pardee" not in answer.text
        assert client.post(clean(sent_quote.token, "accept"), yes(sent_quote)).status_code == 410

    def test_one_taken_back_closes_the_open_page_too(self, sent_quote, client):
        word = word_of(client, sent_quote.token)
        GuestLink.objects.update(revoked_at=timezone.now())
        assert client.get(clean(sent_quote.token)).status_code == 404
        answer = client.post(clean(sent_quote.token, "accept"), yes(sent_quote, answer_word=word))
        assert answer.status_code == 404
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_a_quote_link_opens_no_change_order(self, sent_quote, client):
        assert client.get(letter(sent_quote.token, "change")).status_code == 404

    def test_guessing_is_throttled(self, sent_quote, client):
        answers = [
            client.get(f"/q/guess-{number}/").status_code for number in range(guest_door.WRONG_TOKENS + 2)
        ]
        assert answers[0] == 404
        assert answers[-1] == 429

    def test_reading_is_throttled(self, sent_quote, client, monkeypatch):
        read(client, sent_quote.token)  # two addresses: the letter's and the clean one
        monkeypatch.setattr(guest_door, "PAGES_A_MINUTE", 4)
        answers = [client.get(clean(sent_quote.token)).status_code for _ in range(3)]
        assert answers == [200, 200, 429]

    def test_who_guesses_does_not_keep_the_customer_out(self, sent_quote, client):
        for number in range(guest_door.WRONG_TOKENS + 2):
            client.get(f"/q/guess-{number}/")
        assert read(client, sent_quote.token).status_code == 200

    def test_others_do_not_use_up_the_customers_answers(self, sent_quote, client, settings):
        settings.TRUSTED_PROXIES = 1
        for number in range(guest_door.ANSWERS + 1):
            other = Client(headers={"X-Forwarded-For": f"203.0.113.{number % 2}"})
            send(other, sent_quote.token, "accept", yes(sent_quote, signed_name=""))
        mine = Client(headers={"X-Forwarded-For": "198.51.100.7"})
        assert accept(mine, sent_quote).status_code == 302

    def test_answering_is_throttled(self, sent_quote, client):
        answers = [
            accept(client, sent_quote, signed_name="").status_code for _ in range(guest_door.ANSWERS + 1)
        ]
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
        assert "Accepted by Nell Pardee" in read(client, sent_quote.token).text

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
        word = word_of(client, sent_quote.token)
        Quote.objects.update(valid_until_date=timezone.localdate() - dt.timedelta(days=2))
        assert "ask us to price it again" in read(client, sent_quote.token).text
        answer = accept(client, sent_quote, answer_word=word)
        assert answer.status_code == 422
        assert "send your answer again" not in answer.text
        assert "price it again" in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_one_taken_back_is_too_late(self, sent_quote, alice, now, client):
        word = word_of(client, sent_quote.token)  # the page was open
        quote_withdraw(quote=sent_quote, reason="Wrong panels", actor=alice, at=now)
        answer = accept(client, sent_quote, answer_word=word)
        assert answer.status_code == 422
        assert "replaced by another" in answer.text
        assert "Your answer" not in read(client, sent_quote.token).text

    def test_twice_is_once(self, sent_quote, client):
        word = word_of(client, sent_quote.token)
        accept(client, sent_quote, answer_word=word)
        answer = accept(client, sent_quote, answer_word=word)
        assert answer.status_code == 422
        assert "send your answer again" not in answer.text
        assert Job.objects.get(pk=sent_quote.job_id).moves.filter(to_state="accepted").count() == 1

    def test_a_browser_that_hides_its_origin_can_answer(self, sent_quote):
        # A page that asks for no referrer makes browsers send "Origin: null" with its forms.
        strict = Client(enforce_csrf_checks=True, headers={"Origin": "null"})
        assert accept(strict, sent_quote).status_code == 302


class TestTheDoor:
    """The token is in an address once; a signed cookie opens the pages, and answers bring the page's word."""

    def test_the_first_hit_swaps_the_token_for_a_cookie(self, sent_quote, client):
        answer = client.get(letter(sent_quote.token))
        assert answer.status_code == 302
        assert answer["Location"] == clean(sent_quote.token)
        cookie = client.cookies[guest_door.cookie_name(GuestLink.objects.get().pk)]
        assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")
        assert cookie["path"] == clean(sent_quote.token)
        assert sent_quote.token not in cookie.value
        assert sent_quote.token not in read(client, sent_quote.token).text

    def test_over_tls_the_cookie_travels_nowhere_else(self, sent_quote, client, settings):
        settings.IS_HTTPS = True
        client.get(letter(sent_quote.token))
        cookie = client.cookies[f"__Secure-guest-{GuestLink.objects.get().pk}"]
        assert cookie["secure"] is True
        assert cookie["domain"] == ""

    def test_without_the_cookie_nothing_is_told(self, sent_quote, client):
        answers = [client.get(clean(sent_quote.token)), client.get("/guest/999999/")]
        assert [each.status_code for each in answers] == [404, 404]
        mains = [re.search(r"<main.*</main>", each.text, re.DOTALL)[0] for each in answers]
        assert mains[0] == mains[1]
        assert "Pardee" not in answers[0].text
        assert client.post(clean(sent_quote.token, "accept"), yes(sent_quote)).status_code == 404
        assert client.get(clean(sent_quote.token, "pdf")).status_code == 404

    def test_a_person_of_another_shop_sees_nothing_either(self, sent_quote, charlie, client_of):
        assert client_of(charlie).get(clean(sent_quote.token)).status_code == 404

    @pytest.mark.parametrize("change", ["forged", "cut", "other salt", "the token itself"])
    def test_a_forged_cookie_opens_nothing(self, sent_quote, client, change):
        client.get(letter(sent_quote.token))
        name = guest_door.cookie_name(GuestLink.objects.get().pk)
        good = client.cookies[name].value
        value = GuestLink.objects.get().token_sha256
        client.cookies[name] = {
            "forged": good[:-1] + ("A" if good[-1] != "A" else "B"), "cut": good[:20],
            "other salt": signing.dumps(value, salt="another"), "the token itself": sent_quote.token,
        }[change]  # fmt: skip
        assert client.get(clean(sent_quote.token)).status_code == 404

    def test_the_cookie_of_one_link_opens_no_other(self, sent_quote, client):
        client.get(letter(sent_quote.token))
        mine = GuestLink.objects.get()
        other = GuestLink.objects.create(
            job=mine.job, quote=mine.quote, token_sha256="f" * 64, created_at=mine.created_at,
            expires_at=mine.expires_at,
        )  # fmt: skip
        carried = client.cookies[guest_door.cookie_name(mine.pk)].value
        client.cookies[guest_door.cookie_name(other.pk)] = carried
        assert client.get(reverse("jobs:guest_document", args=[other.pk])).status_code == 404

    def test_the_cookie_lasts_a_day(self, sent_quote, client, settings):
        with time_machine.travel(timezone.now() - dt.timedelta(hours=25)):
            client.get(letter(sent_quote.token))
        for cookie in client.cookies.values():
            cookie["expires"] = cookie["max-age"] = ""  # a browser that keeps what it should not
        assert client.get(clean(sent_quote.token)).status_code == 404

    @pytest.mark.parametrize("act", ["accept", "decline"])
    @pytest.mark.parametrize("word", ["", "0" * 64, "0" * 96, "é" * 96])
    def test_an_answer_without_the_word_of_the_page_is_not_taken(self, sent_quote, client, act, word):
        """A form of another site, sent by the customer's browser with its cookie."""
        read(client, sent_quote.token)
        data = yes(sent_quote, answer_word=word) | {"no-signed_name": "Gus", "no-reason": "No"}
        answer = client.post(clean(sent_quote.token, act), data)
        assert answer.status_code == 422
        assert "send your answer again" in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_the_word_of_another_link_is_not_taken(self, sent_quote, client):
        word = word_of(client, sent_quote.token)
        GuestLink.objects.update(token_sha256=token_sha256("another"))
        read(client, "another")
        answer = client.post(clean("another", "accept"), yes(sent_quote, answer_word=word))
        assert answer.status_code == 422
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent

    def test_the_word_is_another_one_each_time(self, sent_quote, client):
        """Else a compressed page that repeats what is sent to it could be made to tell it, bit by bit."""
        assert word_of(client, sent_quote.token) != word_of(client, sent_quote.token)

    def test_two_tabs_can_both_answer(self, sent_quote, client):
        word = word_of(client, sent_quote.token)
        read(client, sent_quote.token)  # opened once more from the letter
        data = yes(sent_quote, answer_word=word)
        assert client.post(clean(sent_quote.token, "accept"), data).status_code == 302

    def test_a_scanner_of_letters_accepts_nothing(self, sent_quote):
        """It opens the address, follows where it leads, keeps cookies, and asks for all it finds there."""
        scanner = Client()
        text = read(scanner, sent_quote.token).text
        for found in re.findall(r'(?:href|action)="(/[^"]*)"', text):
            if not found.startswith("/static/"):
                scanner.get(found)
                scanner.head(found)
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent


class TestDeclining:
    def test_it_works(self, sent_quote, client):
        answer = send(
            client,
            sent_quote.token,
            "decline",
            {"no-signed_name": "Gus Pardee", "no-reason": "Too dear this year"},
        )
        assert answer.status_code == 302
        sent_quote.refresh_from_db()
        assert sent_quote.state == Quote.State.DECLINED
        assert "Too dear this year" in sent_quote.answer_note
        assert "is declined" in read(client, sent_quote.token).text

    def test_it_wants_a_reason_and_keeps_the_name(self, sent_quote, client):
        answer = send(client, sent_quote.token, "decline", {"no-signed_name": "Gus Pardee", "no-reason": ""})
        assert answer.status_code == 422
        assert 'value="Gus Pardee"' in answer.text
        sent_quote.refresh_from_db()
        assert sent_quote.is_sent


def test_who_is_signed_in_to_another_shop_reads_the_letter_all_the_same(sent_quote, charlie, client_of):
    page = read(client_of(charlie), sent_quote.token)
    assert page.status_code == 200
    assert "Rigid panel P200" in page.text
    assert client_of(charlie).get(f"/quotes/{sent_quote.pk}/").status_code == 404
