"""Options side by side: put together, sent with one link, one accepted, the others closed."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from jobs.design.revision import design_create
from jobs.models import CustomerMessage, Design, LineKind, Offer, OutboxMail, Quote
from jobs.quote.agreed import agreed_sums
from jobs.quote.answer import QuoteNotOpen, quote_accept, quote_decline, quote_lost
from jobs.quote.draft import QuoteRefused, quote_copy, quote_price, scope_of, terms_of
from jobs.quote.follow import offers_waiting
from jobs.quote.lines import LineDraft, draft_of
from jobs.quote.messages import MessageRefused, message_answer, message_ask, messages_settle, thread
from jobs.quote.offer import OptionWords, offer_change, offer_make, offer_send, offer_take_apart
from jobs.quote.remind import offers_remind
from jobs.quote.send import quote_send
from jobs.shop.rights import NotAllowed
from tests.quotes import nothing_missing

DAY = dt.timedelta(days=1)


@pytest.fixture
def designs(golden_job, alice, now) -> list[Design]:
    """Return the trailer's design and a copy of it under another plan."""
    first = golden_job.designs.get()
    second = design_create(job=golden_job, actor=alice, at=now, copy_of=first)
    second.option = Design.Option.LANTERN
    second.save(update_fields=["option"])
    return [first, second]


@pytest.fixture
def offer(designs, alice, now) -> Offer:
    """Return both side by side, a draft, the first recommended; both carry an extra of 100.00."""
    made = offer_make(job=designs[0].job, designs=designs, recommended=designs[0], actor=alice, at=now)
    for quote in made.quotes.all():
        nothing_missing(quote, alice, now)
        with_extra(quote, alice, now)
    return made


def with_extra(quote: Quote, actor, at, price: str = "100.00") -> Quote:
    """Add an optional second outlet, taxed as a part, at this price."""
    quote.refresh_from_db()
    extra = LineDraft(LineKind.SUBCONTRACT, "A second outlet", unit_price=Decimal(price), is_optional=True)
    lines = [draft_of(line) for line in quote.lines.all()]
    return quote_price(
        quote=quote,
        terms=terms_of(quote),
        lines=[*lines, extra],
        scope=scope_of(quote),
        edits=quote.edits,
        actor=actor,
        at=at,
    )


@pytest.fixture
def sent(offer, alice, now) -> Offer:
    """Return it sent."""
    offer_send(offer=offer, actor=alice, at=now)
    offer.refresh_from_db()
    return offer


def by_plan(offer: Offer, option: str) -> Quote:
    return offer.quotes.select_related("job__shop").get(design__option=option)


class TestMaking:
    def test_each_option_has_a_quote_of_its_own_with_words(self, offer):
        assert [quote.design.option for quote in offer.quotes.order_by("pk")] == ["hearth", "lantern"]
        quote = by_plan(offer, "hearth")
        assert offer.recommended_id == quote.pk
        assert quote.option_name == "Hearth"
        assert quote.summary.startswith("Four 200 W panels on the roof, 800 W together")

    def test_two_of_one_plan_are_refused(self, designs, alice, now):
        designs[1].option = designs[0].option
        with pytest.raises(QuoteRefused, match="same plan"):
            offer_make(job=designs[0].job, designs=designs, recommended=None, actor=alice, at=now)

    def test_a_technician_may_not(self, designs, bob, now):
        with pytest.raises(NotAllowed):
            offer_make(job=designs[0].job, designs=designs, recommended=None, actor=bob, at=now)

    def test_the_shops_own_names_are_taken(self, designs, alice, now):
        shop = designs[0].job.shop
        shop.option_texts = {"hearth": {"name": "Evening", "purpose": "For evenings."}}
        shop.save()
        made = offer_make(job=designs[0].job, designs=designs[:1], recommended=None, actor=alice, at=now)
        assert made.quotes.get().option_name == "Evening"

    def test_names_can_be_changed_until_it_is_sent(self, sent, alice, now):
        quote = by_plan(sent, "lantern")
        with pytest.raises(QuoteRefused, match="has been sent"):
            offer_change(
                offer=sent, words={quote.pk: OptionWords("X", "")}, recommended=None, actor=alice, at=now
            )

    def test_taken_apart_its_quotes_stay(self, offer, alice, now):
        offer_take_apart(offer=offer, actor=alice, at=now)
        assert not Offer.objects.exists()
        assert Quote.objects.filter(offer=None).count() == 2

    def test_an_option_is_not_sent_alone(self, offer, alice, now):
        with pytest.raises(QuoteRefused, match="send the offer"):
            quote_send(quote=by_plan(offer, "hearth"), actor=alice, at=now)


class TestSending:
    def test_all_options_are_frozen_with_the_comparison(self, sent):
        assert {quote.state for quote in sent.quotes.all()} == {Quote.State.SENT}
        assert {each["name"] for each in sent.snapshot["options"]} == {"Hearth", "Lantern"}
        assert {each["content_sha256"] for each in sent.snapshot["options"]} == {
            quote.content_sha256 for quote in sent.quotes.all()
        }
        assert all(len(texts) == 2 for _, texts in sent.snapshot["rows"])

    def test_what_forbids_one_forbids_all(self, offer, alice, now):
        by_plan(offer, "lantern").lines.all().delete()
        with pytest.raises(QuoteRefused, match=r"Lantern \(Quote 2\): The quote has no lines"):
            offer_send(offer=offer, actor=alice, at=now)
        assert set(offer.quotes.values_list("state", flat=True)) == {Quote.State.DRAFT}

    def test_the_gap_names_what_would_close_it(self, sent):
        """Both banks are alike here, so neither closes it; what is given is said, rounded down."""
        gap = by_plan(sent, "hearth").snapshot["gap"]
        assert gap.startswith("You asked for 1.5 days without sun; this gives 1.1.")
        assert "ask us" in gap


class TestAccepting:
    def test_one_yes_closes_the_others(self, sent, now):
        quote = by_plan(sent, "hearth")
        quote_accept(quote=quote, signed_name="Nell Pardee", signature_svg="", at=now + DAY)
        other = by_plan(sent, "lantern")
        assert other.state == Quote.State.SUPERSEDED
        with pytest.raises(QuoteNotOpen, match="replaced"):
            quote_accept(quote=other, signed_name="Nell Pardee", signature_svg="", at=now + DAY)

    def test_the_database_knows_one_yes_only(self, sent, now):
        quote_accept(quote=by_plan(sent, "hearth"), signed_name="Nell Pardee", signature_svg="", at=now + DAY)
        with pytest.raises(IntegrityError), transaction.atomic():
            Quote.objects.filter(pk=by_plan(sent, "lantern").pk).update(state=Quote.State.ACCEPTED)

    def test_extras_taken_count_into_total_and_deposit(self, sent, now):
        """On paper: a subcontract of 100.00 is not taxed here; the deposit is 40% of the new total."""
        quote = by_plan(sent, "hearth")
        place = quote.lines.get(is_optional=True).position
        total = quote.total
        quote_accept(
            quote=quote, signed_name="Nell Pardee", signature_svg="", at=now + DAY, chosen=[place],
            shown_total=total + Decimal("100.00"),
        )  # fmt: skip
        quote.refresh_from_db()
        assert quote.total == total
        assert quote.owed_total == total + Decimal("100.00")
        expected = ((total + Decimal("100.00")) * Decimal("0.40")).quantize(Decimal("0.01"), "ROUND_HALF_UP")
        assert quote.owed_deposit == expected

    def test_a_sum_that_was_not_shown_is_not_signed(self, sent, now):
        quote = by_plan(sent, "hearth")
        place = quote.lines.get(is_optional=True).position
        with pytest.raises(QuoteNotOpen, match="total has changed"):
            quote_accept(
                quote=quote, signed_name="Nell Pardee", signature_svg="", at=now, chosen=[place],
                shown_total=quote.total,
            )  # fmt: skip

    def test_a_line_that_is_no_extra_cannot_be_ticked(self, sent):
        quote = by_plan(sent, "hearth")
        assert agreed_sums(quote, [quote.lines.filter(is_optional=False).first().position]) is None

    def test_a_no_is_to_all_options(self, sent, now):
        quote_decline(
            quote=by_plan(sent, "hearth"), signed_name="Nell Pardee", reason="Too dear", at=now,
            lost_reason="price",
        )  # fmt: skip
        assert set(sent.quotes.values_list("state", "lost_reason")) == {("declined", "price")}
        sent.job.refresh_from_db()
        assert sent.job.state == "declined"


class TestWords:
    def test_a_question_reaches_the_shop_and_the_answer_the_customer(self, sent, alice, now, settings):
        settings.MAIL_IS_SET_UP = True
        customer = sent.job.vehicle.customer
        customer.email = "nell@example.com"
        customer.save()
        quote = by_plan(sent, "hearth")
        message_ask(quote=quote, kind="question", name="Nell", text="Does the fan still work?", at=now)
        assert OutboxMail.objects.get(about__startswith="Question").to == alice.email
        message_answer(quote=quote, text="It does.", actor=alice, at=now)
        letter = OutboxMail.objects.get(about__startswith="Answer")
        assert letter.to == "nell@example.com"
        assert "It does." in letter.body
        assert "Does the fan still work?" in letter.body
        assert [each.kind for each in thread(by_plan(sent, "lantern"))] == ["question", "answer"]
        assert not CustomerMessage.objects.filter(settled_at=None).exists()

    def test_a_yes_and_a_no_reach_the_shop(self, sent, alice, now, settings):
        settings.MAIL_IS_SET_UP = True
        quote_accept(quote=by_plan(sent, "hearth"), signed_name="Nell Pardee", signature_svg="", at=now)
        assert OutboxMail.objects.get(about__startswith="Accepted").to == alice.email

    def test_settled_by_phone_waits_no_more(self, sent, alice, now):
        quote = by_plan(sent, "hearth")
        message_ask(quote=quote, kind="change", name="Nell", text="Without the inverter, please.", at=now)
        assert messages_settle(quote=quote, actor=alice, at=now) == 1

    @pytest.mark.parametrize(
        ("changes", "words"),
        [({"text": " "}, "few words"), ({"name": "N"}, "your name"), ({"text": "x" * 2001}, "2,000")],
    )
    def test_what_cannot_be_is_refused(self, sent, now, changes, words):
        said = {"kind": "question", "name": "Nell", "text": "When?"} | changes
        with pytest.raises(MessageRefused, match=words):
            message_ask(quote=by_plan(sent, "hearth"), at=now, **said)


class TestReminders:
    """The shop's days are 3, 10 and 21; the test's moment is nine in the morning in Denver."""

    @pytest.fixture(autouse=True)
    def letters(self, sent, settings):
        settings.MAIL_IS_SET_UP = True
        sent.job.vehicle.customer.email = "nell@example.com"
        sent.job.vehicle.customer.save()

    @pytest.mark.parametrize(("days", "count"), [(2, 0), (3, 1), (11, 1), (40, 0)])
    def test_one_letter_on_its_day_until_it_has_run_out(self, sent, now, days, count):
        assert offers_remind(at=now + days * DAY) == count
        assert offers_remind(at=now + days * DAY) == 0
        assert OutboxMail.objects.filter(subject__contains="our offer").count() == count

    def test_all_days_make_as_many_letters(self, sent, now):
        assert sum(offers_remind(at=now + day * DAY) for day in range(1, 30)) == 3

    def test_a_letter_opens_the_offer(self, sent, now):
        offers_remind(at=now + 3 * DAY)
        body = OutboxMail.objects.get(subject__contains="our offer").body
        assert body.count("/q/") == 1
        assert "$" not in body

    def test_a_question_and_an_answer_stop_them(self, sent, now):
        quote = by_plan(sent, "hearth")
        message_ask(quote=quote, kind="question", name="Nell", text="When?", at=now)
        assert offers_remind(at=now + 3 * DAY) == 0
        quote_decline(quote=quote, signed_name="Nell Pardee", reason="No", at=now)
        assert offers_remind(at=now + 10 * DAY) == 0

    def test_not_at_night(self, sent, now):
        assert offers_remind(at=now + 3 * DAY + dt.timedelta(hours=12)) == 0


class TestFollowing:
    def test_one_line_an_offer_and_what_needs_us_first(self, sent, now, shop):
        rows = offers_waiting(shop, at=now + 2 * DAY, today=(now + 2 * DAY).date())
        assert [(row.quote.design.option, row.days_out, row.needs_us) for row in rows] == [
            ("hearth", 2, False)
        ]
        message_ask(quote=by_plan(sent, "lantern"), kind="change", name="Nell", text="Bigger?", at=now)
        assert offers_waiting(shop, at=now, today=now.date())[0].asked == 1

    def test_lost_closes_all_options_with_the_reason(self, sent, alice, now):
        quote_lost(
            quote=by_plan(sent, "hearth"), lost_reason="silent", note="Called twice", actor=alice, at=now
        )
        assert set(sent.quotes.values_list("state", "lost_reason")) == {("declined", "silent")}

    def test_a_reason_nobody_knows_is_refused(self, sent, alice, now):
        with pytest.raises(QuoteNotOpen, match="why it was lost"):
            quote_lost(quote=by_plan(sent, "hearth"), lost_reason="", note="", actor=alice, at=now)


class TestRevisions:
    def test_what_changed_since_the_offer_before_is_said(self, sent, alice, now):
        """On paper: the one extra changes nothing; 80.00 of welding is new, and the total grows by it."""
        before = by_plan(sent, "hearth")
        copy = quote_copy(quote=before, actor=alice, at=now)
        welder = LineDraft(LineKind.SUBCONTRACT, "Welder", unit_price=Decimal("80.00"))
        lines = [draft_of(line) for line in copy.lines.all() if line.code != "L23"]
        quote_price(
            quote=copy, terms=terms_of(copy), lines=[*lines, welder], scope=scope_of(copy), edits=copy.edits,
            actor=alice, at=now,
        )  # fmt: skip
        gone = before.lines.get(code="L23")
        quote_send(quote=Quote.objects.get(pk=copy.pk), actor=alice, at=now, reason="As agreed")
        changes = Quote.objects.get(pk=copy.pk).snapshot["changes"]
        total = before.total + 80 - gone.amount
        assert changes == [
            f"No longer: {gone.text}.",
            "New: Welder, $80.00.",
            f"Total: ${before.total:,} → ${total:,}.",
        ]

    def test_a_first_offer_has_no_changes(self, sent):
        assert by_plan(sent, "hearth").snapshot["changes"] == []
