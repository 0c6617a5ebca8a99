"""Two stories told to the cent: what a quote comes to, and what happens when rot is found.

Every figure is arithmetic worked by hand beside it; rates and rounding are the shop's own starting values.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from jobs.ledger.payment import PaymentRefused, deposit_record
from jobs.models import ChangeOrder, Design, Job, JobMove, LineKind, LogEntry, Quote
from jobs.quote.answer import quote_accept
from jobs.quote.change_order import (
    MINIMUM_CODE,
    ChangeFacts,
    ChangeNotOpen,
    ChangeRefused,
    allowance_left,
    change_order_accept,
    change_order_create,
    change_order_decide,
    change_order_decline,
    change_order_price,
    change_order_send,
    change_order_verbal,
    change_order_withdraw,
    new_total,
)
from jobs.quote.checks import margin_verdict
from jobs.quote.draft import quote_price, terms_of
from jobs.quote.lines import LineDraft, Rates, labour
from jobs.quote.read import job_money, two_ways
from jobs.quote.send import quote_send
from jobs.shop.rights import NotAllowed

RATES = Rates(Decimal(135), Decimal(215), Decimal(62), Decimal("0.70"), Decimal("0.30"))


@pytest.fixture
def quote(draft_quote, alice, now) -> Quote:
    """Return a quote of the story: parts of 4,180.00, 22.5 h, 46 miles, 250.00 for the roof."""
    lines = [
        LineDraft(LineKind.PART, "Parts", unit_cost=Decimal("4180.00"), markup=Decimal("0.30")),
        labour("L05", "Work", Decimal("22.5"), RATES),
        LineDraft(LineKind.CONSUMABLES, "Sealant", quantity=Decimal("0.04"), unit="of parts"),
        LineDraft(LineKind.TRAVEL, "Travel", quantity=Decimal(46), unit="mile", unit_price=Decimal("2.50")),
        LineDraft(LineKind.ALLOWANCE, "Roof allowance", unit_price=Decimal("250.00")),
    ]
    return quote_price(
        quote=draft_quote,
        terms=terms_of(draft_quote),
        lines=lines,
        scope=[],
        edits=draft_quote.edits,
        actor=alice,
        at=now,
    )


@pytest.fixture
def accepted(quote, alice, now) -> Quote:
    """Return it accepted."""
    quote_send(quote=quote, actor=alice, at=now)
    return quote_accept(quote=quote, signed_name="Nell Pardee", signature_svg="", at=now)


class TestTheQuote:
    def test_it_comes_to_the_cent(self, quote):
        stored = Quote.objects.get(pk=quote.pk)
        assert stored.subtotal == Decimal("9003.70")  # 5434.00 + 3037.50 + 167.20 + 115.00 + 250.00
        assert stored.tax == Decimal("434.09")  # 0.0775 × 5601.20 = 434.093
        assert stored.total == Decimal("9437.79")
        assert stored.deposit == Decimal("3775.12")  # 0.40 × 9437.79 = 3775.116
        assert stored.direct_cost == Decimal("5774.40")  # 4180 + 167.20 + 1395 + 32.20
        assert round(stored.margin_fraction, 4) == Decimal("0.3587")
        assert (
            margin_verdict(stored.margin_fraction, caution=Decimal("0.30"), block=Decimal("0.20")) == "pass"
        )

    def test_markup_and_margin_are_both_shown(self, quote):
        both = two_ways(Decimal("4180.00"), quote.job.shop)
        assert both.as_markup == Decimal("5434.00")
        assert both.as_margin == Decimal("5971.43")  # 4180 / 0.70

    def test_stored_lines_add_up_to_the_stored_sub_total(self, quote):
        assert sum(line.amount for line in quote.lines.all()) == Decimal("9003.70")

    @pytest.mark.parametrize(
        ("margin", "verdict"),
        [("0.30", "pass"), ("0.2999", "caution"), ("0.20", "caution"), ("0.1999", "block")],
    )
    def test_margin_bands(self, margin, verdict):
        found = margin_verdict(Decimal(margin), caution=Decimal("0.30"), block=Decimal("0.20"))
        assert found == verdict


class TestRotFound:
    FACTS = ChangeFacts(
        cause="Moisture 27 %, soft 0.6 m² beside the bath vent",
        found_by_name="Bob Test",
        locked_phases=("C", "D", "E"),
        credits_allowance=Decimal("250.00"),
        schedule_days=1,
        is_safety_critical=True,
    )

    @pytest.fixture
    def order(self, accepted, alice, now) -> ChangeOrder:
        """Return the change order: 4.0 h at 135 and parts of 92 at 30 %."""
        lines = [
            labour("L26", "Rot repair", Decimal("4.0"), RATES),
            LineDraft(LineKind.PART, "Ply, resin, tape", unit_cost=Decimal("92.00"), markup=Decimal("0.30")),
        ]
        return change_order_create(job=accepted.job, facts=self.FACTS, lines=lines, actor=alice, at=now)

    def test_it_comes_to_the_cent(self, order, accepted):
        assert order.subtotal == Decimal("659.60")  # 4 × 135 + 92 × 1.30
        assert order.tax == Decimal("9.27")  # 0.0775 × 119.60 = 9.269
        assert order.total == Decimal("668.87")
        assert new_total(accepted.job, with_order=order) == Decimal("9856.66")  # + 668.87 - 250.00

    def test_the_roof_waits_until_the_ink_is_dry(self, order, alice, now):
        assert order.is_waiting
        assert order.locked_phases == ["C", "D", "E"]
        order = change_order_verbal(order=order, said_by="Nell Pardee", through="phone", actor=alice, at=now)
        assert order.state == ChangeOrder.State.VERBAL
        assert order.is_waiting  # a word on the phone opens nothing
        change_order_send(order=order, actor=alice, at=now)
        order = change_order_accept(
            order=order, signed_name="Nell Pardee", signature_svg="<svg/>", through="link", at=now
        )
        assert not order.is_waiting

    def test_accepted_it_counts(self, order, accepted, alice, now):
        change_order_send(order=order, actor=alice, at=now)
        change_order_accept(order=order, signed_name="Nell Pardee", signature_svg="", through="link", at=now)
        money = job_money(Job.objects.get(pk=accepted.job_id))
        assert money.total == Decimal("9856.66")
        assert allowance_left(accepted.job) == 0

    def test_the_quote_stays_as_it_was(self, order, accepted):
        stored = Quote.objects.get(pk=accepted.pk)
        assert stored.total == Decimal("9437.79")
        assert stored.snapshot["totals"]["total"] == "9437.79"

    def test_the_price_holds_48_hours(self, order, alice, now):
        change_order_send(order=order, actor=alice, at=now)
        late = now + dt.timedelta(hours=48, seconds=1)
        with pytest.raises(ChangeNotOpen, match="48 hours"):
            change_order_accept(
                order=order, signed_name="Nell Pardee", signature_svg="", through="link", at=late
            )
        change_order_accept(
            order=order,
            signed_name="Nell Pardee",
            signature_svg="",
            through="link",
            at=now + dt.timedelta(hours=48),
        )

    def test_refused_it_waits_for_the_owner(self, order, alice, erin, now):
        change_order_send(order=order, actor=alice, at=now)
        order = change_order_decline(
            order=order, signed_name="Nell Pardee", reason="We sell it in spring", through="link", at=now
        )
        assert order.needs_owner
        assert order.is_waiting
        with pytest.raises(NotAllowed):
            change_order_decide(order=order, decision="Go on, refusal on paper", actor=erin, at=now)
        with pytest.raises(ChangeRefused, match="15 characters"):
            change_order_decide(order=order, decision="Go on", actor=alice, at=now)
        order = change_order_decide(
            order=order, decision="Go on as refused: no feet within 1 m of the vent", actor=alice, at=now
        )
        assert not order.is_waiting
        assert order.owner_decision.startswith("Go on as refused")

    def test_refused_without_danger_it_goes_on(self, accepted, alice, now):
        facts = ChangeFacts("Second outlet wanted", "Bob Test", ("H",), schedule_days=1)
        order = change_order_create(job=accepted.job, facts=facts, lines=[], actor=alice, at=now)
        order = change_order_decline(
            order=order, signed_name="Nell Pardee", reason="No", through="in person", at=now
        )
        assert not order.is_waiting

    def test_no_more_allowance_is_given_back_than_there_is(self, order, accepted, alice, now):
        facts = ChangeFacts("More", "Bob Test", (), credits_allowance=Decimal("0.01"))
        with pytest.raises(ChangeRefused, match=r"Only \$0\.00 of the accepted allowances"):
            change_order_create(job=accepted.job, facts=facts, lines=[], actor=alice, at=now)

    def test_a_technician_writes_it_down_without_a_price(self, accepted, bob, now):
        order = change_order_create(
            job=accepted.job,
            facts=ChangeFacts("Soft roof", "Bob Test", ("D",)),
            lines=[],
            actor=bob,
            at=now,
        )
        assert order.is_waiting
        assert order.total == 0
        with pytest.raises(ChangeRefused, match="office prices"):
            change_order_create(
                job=accepted.job,
                facts=ChangeFacts("Soft roof", "Bob Test", ("D",)),
                lines=[labour("L26", "Repair", Decimal(1), RATES)],
                actor=bob,
                at=now,
            )

    def test_a_small_change_comes_to_the_least_charge(self, accepted, alice, now):
        lines = [LineDraft(LineKind.PART, "Clip", unit_cost=Decimal("5.00"), markup=Decimal("0.30"))]
        facts = ChangeFacts("Clip", "Bob Test", ())
        order = change_order_create(job=accepted.job, facts=facts, lines=lines, actor=alice, at=now)
        assert order.subtotal == Decimal("45.00")
        assert order.tax == Decimal("0.50")  # 0.0775 × 6.50 = 0.504
        kept = [line for line in order.lines.all() if line.code != MINIMUM_CODE]
        assert len(kept) == 1

    def test_taking_something_away_gives_money_and_tax_back(self, accepted, alice, now):
        lines = [
            LineDraft(
                LineKind.PART,
                "No inverter",
                quantity=Decimal(-1),
                unit_cost=Decimal(489),
                markup=Decimal("0.30"),
            )
        ]
        facts = ChangeFacts("Inverter not wanted", "Erin Test", ())
        order = change_order_create(job=accepted.job, facts=facts, lines=lines, actor=alice, at=now)
        assert order.subtotal == Decimal("-635.70")
        assert order.tax == Decimal("-49.27")  # 0.0775 × 635.70 = 49.267
        assert new_total(accepted.job, with_order=order) == Decimal("8752.82")

    def test_a_new_price_ends_the_old_link(self, order, alice, now):
        from jobs.quote.guest_link import LinkUnknown, link_open

        _, token = change_order_send(order=order, actor=alice, at=now)
        change_order_price(order=order, facts=self.FACTS, lines=[], actor=alice, at=now)
        with pytest.raises(LinkUnknown):
            link_open(token=token, at=now)

    def test_before_acceptance_there_is_no_change_order(self, quote, alice, now):
        with pytest.raises(ChangeRefused, match="no work to change"):
            change_order_create(job=quote.job, facts=self.FACTS, lines=[], actor=alice, at=now)

    def test_withdrawn_it_opens_its_phases(self, order, alice, now):
        order = change_order_withdraw(order=order, reason="Only a stain", actor=alice, at=now)
        assert not order.is_waiting


class TestDeposit:
    def test_the_full_sum_moves_the_job(self, accepted, ken, now):
        deposit_record(job=accepted.job, amount=Decimal("3000.00"), actor=ken, at=now)
        assert Job.objects.get(pk=accepted.job_id).state == Job.State.ACCEPTED
        job = Job.objects.get(pk=accepted.job_id)
        quote = deposit_record(job=job, amount=Decimal("775.12"), actor=ken, at=now)
        assert quote.deposit_paid == Decimal("3775.12")
        assert Job.objects.get(pk=accepted.job_id).state == Job.State.DEPOSIT_PAID
        assert JobMove.objects.filter(job=accepted.job_id).last().reason == "Deposit received in full"
        entries = LogEntry.objects.filter(verb="payment entered", shows_prices=True).order_by("pk")
        assert [entry.detail for entry in entries] == ["Receipt 1, $3,000.00", "Receipt 2, $775.12"]

    def test_estimator_and_technician_do_not_handle_money(self, accepted, erin, bob, charlie, now):
        for person in (erin, bob, charlie):
            with pytest.raises(NotAllowed):
                deposit_record(job=accepted.job, amount=Decimal(1), actor=person, at=now)

    def test_more_than_the_whole_quote_is_refused(self, accepted, alice, now):
        with pytest.raises(PaymentRefused, match=r"9,437\.79"):
            deposit_record(job=accepted.job, amount=Decimal("9437.80"), actor=alice, at=now)

    def test_without_acceptance_there_is_no_deposit(self, quote, alice, now):
        with pytest.raises(PaymentRefused, match="no accepted quote"):
            deposit_record(job=quote.job, amount=Decimal(1), actor=alice, at=now)


def test_the_design_is_frozen_with_the_quote(accepted):
    assert Design.objects.get(pk=accepted.design_id).is_frozen
