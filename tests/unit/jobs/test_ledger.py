"""The books of a job, to the cent, on the story of the trailer whose roof had rot.

Sums are arithmetic on paper, beside each check: the quote comes to 9,437.79 with 434.09 tax on 5,601.20 and a
roof allowance of 250.00 that is not taxed; the change to 668.87 with 9.27 tax on 119.60.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.ledger.account import account_of
from jobs.ledger.ages import age_list
from jobs.ledger.card_numbers import holds_card_number
from jobs.ledger.export import HEAD, month_rows
from jobs.ledger.invoice import InvoiceRefused, credit_note_issue, invoice_issue
from jobs.ledger.payment import PaymentRefused, payment_record, payment_undo
from jobs.models import Invoice, Job, LedgerCount, LineKind, Payment, Quote
from jobs.quote.answer import quote_accept
from jobs.quote.change_order import ChangeFacts, change_order_accept, change_order_create, change_order_send
from jobs.quote.draft import quote_price, terms_of
from jobs.quote.lines import LineDraft, Rates, labour
from jobs.quote.send import quote_send
from jobs.shop.rights import NotAllowed

pytestmark = pytest.mark.django_db

RATES = Rates(Decimal(135), Decimal(215), Decimal(62), Decimal("0.70"), Decimal("0.30"))
D = Decimal


@pytest.fixture
def job(draft_quote: Any, alice: Any, now: dt.datetime) -> Job:
    """Return the job with its quote of 9,437.79 accepted."""
    lines = [
        LineDraft(LineKind.PART, "Parts", unit_cost=D("4180.00"), markup=D("0.30")),
        labour("L05", "Work", D("22.5"), RATES),
        LineDraft(LineKind.CONSUMABLES, "Sealant", quantity=D("0.04"), unit="of parts"),
        LineDraft(LineKind.TRAVEL, "Travel", quantity=D(46), unit="mile", unit_price=D("2.50")),
        LineDraft(LineKind.ALLOWANCE, "Roof allowance", unit_price=D("250.00")),
    ]
    quote = quote_price(
        quote=draft_quote, terms=terms_of(draft_quote), lines=lines, scope=[], edits=draft_quote.edits,
        actor=alice, at=now,
    )  # fmt: skip
    quote_send(quote=quote, actor=alice, at=now)
    quote_accept(quote=quote, signed_name="Nell Pardee", signature_svg="", at=now)
    return again(quote.job)


def again(job: Job) -> Job:
    return Job.objects.select_related("shop", "vehicle__customer").get(pk=job.pk)


@pytest.fixture
def deposit(job: Job, ken: Any, now: dt.datetime) -> Invoice:
    """Return the deposit invoice over 3,775.12."""
    return invoice_issue(job=job, kind="deposit", amount=D("3775.12"), actor=ken, at=now)


def rot(job: Job, alice: Any, now: dt.datetime) -> None:
    """Agree to the change that uses the roof allowance."""
    lines = [
        labour("L26", "Rot repair", D(4), RATES),
        LineDraft(LineKind.PART, "Ply, resin, tape", unit_cost=D("92.00"), markup=D("0.30")),
    ]
    facts = ChangeFacts("Soft beside the vent", "Bob Test", ("D",), credits_allowance=D("250.00"))
    order = change_order_create(job=job, facts=facts, lines=lines, actor=alice, at=now)
    change_order_send(order=order, actor=alice, at=now)
    change_order_accept(order=order, signed_name="Nell Pardee", signature_svg="", through="link", at=now)


class TestInvoices:
    def test_a_deposit_holds_its_share_of_the_tax(self, deposit):
        assert (deposit.number, deposit.total, deposit.issued_on) == (1, D("3775.12"), dt.date(2026, 11, 25))
        assert deposit.due_on == dt.date(2026, 12, 9)  # 14 days
        # taxed with its tax 5,601.20 + 434.09 = 6,035.29 of 9,437.79: 3,775.12 × 6,035.29 / 9,437.79 =
        # 2,414.1186; 2,414.12 / 1.0775 = 2,240.4826; the rest of it, 173.64, is tax
        assert deposit.taxes == [{"rate": "0.07750", "base": "2240.48", "tax": "173.64"}]
        assert deposit.snapshot["lines"] == [
            {"text": "Deposit on the agreed total of $9,437.79", "amount": "3775.12"}
        ]

    def test_all_invoices_together_hold_what_was_agreed(self, job, deposit, alice, ken, now):
        rot(job, alice, now)
        invoice_issue(job=again(job), kind="progress", amount=D("2000.00"), actor=ken, at=now)
        final = invoice_issue(job=again(job), kind="final", actor=ken, at=now)
        # 9,437.79 + 668.87 − 250.00 = 9,856.66, less 3,775.12 and 2,000.00
        assert final.total == D("4081.54")
        account = account_of(again(job))
        assert account.agreed.total == account.billed.total == D("9856.66")
        assert account.billed.tax == D("443.36")  # 434.09 + 9.27
        (rate,) = account.billed.rates
        assert rate.base == D("5720.80")  # 5,601.20 + 119.60
        assert account.left.total == 0
        assert [one["amount"] for one in final.snapshot["steps"]] == ["-250.00", "-3775.12", "-2000.00"]
        assert [group["total"] for group in final.snapshot["groups"]] == ["9437.79", "668.87"]

    def test_what_is_left_of_an_allowance_is_credited(self, job, deposit, ken, now):
        with pytest.raises(InvoiceRefused, match=r"0 to \$250\.00"):
            invoice_issue(job=job, kind="final", actor=ken, at=now)
        final = invoice_issue(job=job, kind="final", allowance_used=D("90.00"), actor=ken, at=now)
        assert final.total == D("5502.67")  # 9,437.79 − 160.00 − 3,775.12
        account = account_of(again(job))
        assert account.agreed.total == D("9277.79")
        assert account.balance == D("9277.79")
        assert not account.left.total

    def test_shown_lines_add_up_to_shown_totals(self, job, deposit, ken, now):
        shown = invoice_issue(job=job, kind="final", allowance_used=D(0), actor=ken, at=now).snapshot
        for group in shown["groups"]:
            assert sum(D(line["amount"]) for line in group["lines"]) == D(group["subtotal"])
            assert D(group["subtotal"]) + D(group["tax"]) == D(group["total"])
        parts = [D(group["total"]) for group in shown["groups"]]
        assert sum(parts + [D(step["amount"]) for step in shown["steps"]]) == D(shown["total"])
        taxed = sum(D(one["base"]) + D(one["tax"]) for one in shown["taxes"])
        assert taxed + D(shown["untaxed"]) == D(shown["total"])

    def test_more_than_is_left_is_refused_and_takes_no_number(self, job, deposit, ken, now):
        with pytest.raises(InvoiceRefused, match=r"\$5,662\.67"):  # 9,437.79 − 3,775.12
            invoice_issue(job=job, kind="progress", amount=D("5662.68"), actor=ken, at=now)
        assert LedgerCount.objects.get(shop=job.shop).invoices == 1

    def test_a_credit_note_takes_back_and_may_be_invoiced_anew(self, job, deposit, ken, now):
        note = credit_note_issue(
            invoice=deposit,
            amount=D("3775.12"),
            reason="Wrong customer",
            lowers_price=False,
            actor=ken,
            at=now,
        )
        assert (note.number, note.total, note.tax) == (2, D("-3775.12"), D("-173.64"))
        account = account_of(again(job))
        assert (account.billed.total, account.left.total, account.due) == (0, D("9437.79"), 0)
        with pytest.raises(InvoiceRefused, match=r"only \$0\.00 left"):
            credit_note_issue(
                invoice=deposit, amount=D(1), reason="Once more", lowers_price=False, actor=ken, at=now
            )

    def test_a_lowered_price_is_not_invoiced_anew(self, job, deposit, ken, now):
        credit_note_issue(
            invoice=deposit, amount=D("75.12"), reason="Scratched trim", lowers_price=True, actor=ken, at=now
        )
        account = account_of(again(job))
        assert (account.agreed.total, account.billed.total) == (D("9362.67"), D("3700.00"))
        final = invoice_issue(job=job, kind="final", allowance_used=D(250), actor=ken, at=now)
        assert final.total == D("5662.67")  # 9,362.67 − 3,700.00
        parts = [D(group["total"]) for group in final.snapshot["groups"]]
        assert sum(parts + [D(step["amount"]) for step in final.snapshot["steps"]]) == final.total

    def test_an_invoice_is_never_changed(self, deposit):
        for act in (lambda: Invoice.objects.update(total=1), lambda: deposit.delete()):
            with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
                act()

    def test_only_those_who_take_money_issue(self, job, erin, bob, charlie, now):
        for person in (erin, bob, charlie):
            with pytest.raises(NotAllowed):
                invoice_issue(job=job, kind="deposit", amount=D(1), actor=person, at=now)


class TestPayments:
    def test_paying_moves_the_job_and_settles_it(self, job, deposit, alice, ken, now):
        paid = payment_record(
            job=job, amount=D("3775.12"), method="check", reference="No. 1012", actor=ken, at=now
        )
        assert (paid.number, paid.entered_by_name, again(job).state) == (1, "Ken Test", "deposit_paid")
        Job.objects.filter(pk=job.pk).update(state="released")
        later = now + dt.timedelta(days=1)
        final = invoice_issue(job=again(job), kind="final", allowance_used=D(250), actor=ken, at=later)
        assert again(job).state == "invoiced"
        with pytest.raises(PaymentRefused, match=r"Only \$5,662\.67"):
            payment_record(job=again(job), amount=D("5662.68"), actor=ken, at=now)
        payment_record(job=again(job), amount=final.total, method="bank", actor=ken, at=later)
        account = account_of(again(job))
        assert (account.due, account.balance, again(job).state) == (0, 0, "paid")
        assert [entry.balance for entry in account.entries] == [D("3775.12"), 0, D("5662.67"), 0]

    def test_a_wrong_entry_is_taken_back_by_another(self, job, ken, now):
        wrong = payment_record(job=job, amount=D("377.51"), actor=ken, at=now)
        back = payment_undo(payment=wrong, reason="One digit short", actor=ken, at=now)
        assert (back.number, back.amount, back.undoes) == (2, D("-377.51"), wrong)
        assert account_of(again(job)).received == 0
        for each in (wrong, back):
            with pytest.raises(PaymentRefused, match="already"):
                payment_undo(payment=each, reason="Once more", actor=ken, at=now)

    def test_no_more_is_paid_back_than_came_in(self, job, ken, now):
        payment_record(job=job, amount=D("100.00"), actor=ken, at=now)
        with pytest.raises(PaymentRefused, match=r"Only \$100\.00 has come in"):
            payment_record(job=job, amount=D("100.01"), is_paid_back=True, actor=ken, at=now)
        payment_record(job=job, amount=D("40.00"), is_paid_back=True, actor=ken, at=now)
        assert account_of(again(job)).received == D("60.00")
        assert Quote.objects.get(job=job, state="accepted").deposit_paid == D("60.00")

    @pytest.mark.parametrize(
        "wrong", [{"amount": D("0.001")}, {"received_on": dt.date(2026, 11, 26)}, {"amount": D(-5)}]
    )
    def test_what_cannot_be_is_refused(self, job, ken, now, wrong):
        with pytest.raises(PaymentRefused):
            payment_record(**{"job": job, "amount": D(10), "actor": ken, "at": now} | wrong)

    def test_a_card_number_is_never_kept(self, job, deposit, ken, now):
        card = "4000 0012 3456 7899"  # invented; its check digit is right by ISO/IEC 7812-1, annex B
        with pytest.raises(PaymentRefused, match="card number"):
            payment_record(job=job, amount=D(10), reference=card, actor=ken, at=now)
        with pytest.raises(InvoiceRefused, match="card number"):
            credit_note_issue(
                invoice=deposit, amount=D(1), reason=f"card {card}", lowers_price=False, actor=ken, at=now
            )
        assert not Payment.objects.exists()


@pytest.mark.parametrize(
    ("text", "is_card"),
    [
        ("7992739871-3 4000001234567899", True),  # the second run; sums below
        ("4000-0012-3456-7899", True),  # doubled every other: 8+0+0+0+0+0+2+2+6+4+1+6+5+8+9+9 = 60
        ("4000001234567898", False),
        ("No. 1012, paid 2026-11-25", False),
        ("0000 0000 0000 0000", False),
        ("DE02 1203 0000 0000 2020 51", False),  # an account number: 20 digits in a row
    ],
)
def test_what_looks_like_a_card_number(text, is_card):
    assert holds_card_number(text) is is_card


class TestAges:
    @pytest.mark.parametrize(
        ("days", "place"), [(0, 0), (14, 0), (15, 1), (44, 1), (45, 2), (74, 2), (75, 3), (104, 3), (105, 4)]
    )
    def test_what_is_open_stands_under_the_days_since_it_was_due(self, job, deposit, ken, now, days, place):
        payment_record(job=job, amount=D("775.12"), actor=ken, at=now)
        found = age_list(job.shop, on=deposit.issued_on + dt.timedelta(days=days))  # due after 14
        assert [bool(sum) for sum in found.columns] == [at == place for at in range(5)]
        assert found.open == D("3000.00")
        assert found.overdue == (D("3000.00") if place else 0)

    def test_what_was_paid_ahead_is_told_apart(self, job, ken, now):
        payment_record(job=job, amount=D("775.12"), actor=ken, at=now)
        found = age_list(job.shop, on=dt.date(2026, 12, 1))
        assert (found.rows, found.open, found.ahead) == ((), 0, D("775.12"))


class TestMonth:
    def test_the_bookkeeper_gets_every_line_and_the_sums_by_rate(self, job, deposit, ken, now):
        Job.objects.filter(pk=job.pk).update(number="=1+1")
        payment_record(job=job, amount=D("3775.12"), method="check", reference="@SUM(A1)", actor=ken, at=now)
        rows = [dict(zip(HEAD, row, strict=True)) for row in month_rows(job.shop, dt.date(2026, 11, 1))[1:]]
        first = [(row["tax rate %"], row["net"], row["tax"], row["gross"]) for row in rows[:2]]
        assert first == [("0", "1361.00", "0.00", "1361.00"), ("7.75", "2240.48", "173.64", "2414.12")]
        assert (rows[2]["document"], rows[2]["gross"]) == ("Payment", "3775.12")
        sums = {(row["document"], row["tax rate %"]): row["gross"] for row in rows[3:]}
        assert sums[("Invoiced at this rate", "7.75")] == "2414.12"
        assert sums[("Invoiced", "")] == sums[("Received", "")] == "3775.12"

    def test_an_empty_month_has_its_headings(self, shop):
        rows = month_rows(shop, dt.date(2026, 2, 1))
        assert rows[0] == list(HEAD)
        assert {row[-2] for row in rows[1:]} == {"0.00"}


@pytest.mark.parametrize(
    ("currency", "amount", "written"), [("JPY", "4000", "4000"), ("KWD", "3775.125", "3775.125")]
)
def test_other_currencies_keep_their_decimals(job, ken, now, currency, amount, written):
    job.shop.currency = currency
    job.shop.save()
    paid = payment_record(job=again(job), amount=D(amount), actor=ken, at=now)
    assert Payment.objects.get(pk=paid.pk).amount == D(amount)
    assert account_of(again(job)).received == D(amount)
    assert month_rows(again(job).shop, dt.date(2026, 11, 1))[1][-2] == written
    with pytest.raises(PaymentRefused, match="too many decimals"):
        payment_record(job=again(job), amount=D("0.0005"), actor=ken, at=now)


def test_a_number_is_given_once(deposit):
    deposit.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        deposit.save()
