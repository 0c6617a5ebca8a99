"""Typed terms are stored terms are the document's own total; and what else of a job an answer touches.

The sums are worked again here from what the customer reads: every printed line, the tax and the
deposit named in the terms. Rules (common practice, no source): a line is rounded half up once to the cent;
tax is taken once on the sum of the taxed lines (parts with consumables, labor where ticked), a discount and
an optional line are not taxed, the deposit is a share of the total.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import fields, replace
from decimal import ROUND_HALF_UP, Decimal

import pytest

from jobs.customers.job import job_move
from jobs.models import ChangeOrder, Job, LineKind, Quote
from jobs.quote.answer import QuoteNotOpen, quote_accept, quote_decline
from jobs.quote.change_order import ChangeFacts, change_order_create, change_order_show
from jobs.quote.draft import QuoteRefused, QuoteTerms, quote_copy, quote_price, terms_of
from jobs.quote.lines import LineDraft
from jobs.quote.money import MoneyError, margin_of_markup
from jobs.quote.send import document_of, quote_send
from jobs.shop.actor import ByName

CENT = Decimal("0.01")
LINES = (
    LineDraft(
        LineKind.PART, "Panel", quantity=Decimal(3), unit_cost=Decimal("101.37"), markup=Decimal("0.31")
    ),
    LineDraft(
        LineKind.PART, "Controller", unit_cost=Decimal("211.11"), markup=Decimal("0.37"), is_margin=True
    ),
    LineDraft(LineKind.PART, "Spare fuse", unit_cost=Decimal("7.77"), is_optional=True),
    LineDraft(LineKind.LABOUR, "Work", quantity=Decimal("7.3"), unit="h", unit_price=Decimal("135")),
    LineDraft(LineKind.SUBCONTRACT, "Crane", unit_price=Decimal("333.33")),
    LineDraft(LineKind.TRAVEL, "Miles", quantity=Decimal(17), unit="mile", unit_price=Decimal("2.53")),
    LineDraft(LineKind.ALLOWANCE, "Roof", unit_price=Decimal("250")),
    LineDraft(LineKind.DISCOUNT, "Friend", unit_price=Decimal("61.01")),
)
#: What the kinds of line are called on the paper, and with what they are taxed.
TAXED = {"Part": "parts", "Consumables": "parts", "Labor": "labour"}
TYPED = [
    QuoteTerms("One", "words", Decimal(tax), on_parts, on_labour, exempt, Decimal(deposit))
    for tax, on_parts, on_labour, exempt, deposit in (
        ("0.0775", True, False, "", "0.40"),
        ("0.0775", False, True, "", "0.25"),
        ("0.0625", True, True, "", "0.5"),
        ("0.0625", False, False, "", "0.5"),
        ("0.0825", True, True, "EX-77", "0.33"),
        ("0", True, True, "", "0"),
        ("0.10125", True, False, "", "1"),
    )
]  # fmt: skip


def half_up(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP)


def printed_sums(document) -> dict[str, Decimal]:
    """Work the sums again from what is printed: lines, the words about tax, the words about the deposit."""
    said = document["totals"]["tax_text"]
    found = re.fullmatch(r"Sales tax ([\d.]+)% on (.+)", said)
    rate, on = (Decimal(found[1]) / 100, found[2].split(" and ")) if found else (Decimal(0), [])
    subtotal = sum(Decimal(line["amount"]) for line in document["lines"])
    taxed = sum(Decimal(line["amount"]) for line in document["lines"] if TAXED.get(line["kind"]) in on)
    deposit = Decimal(re.search(r"A deposit of ([\d.]+)%", " ".join(document["terms"]))[1]) / 100
    total = subtotal + half_up(taxed * rate)
    return {
        "subtotal": subtotal,
        "tax": half_up(taxed * rate),
        "total": total,
        "deposit": half_up(total * deposit),
        "balance": total - half_up(total * deposit),
    }


def price(quote, actor, at, terms, lines=LINES):
    now = Quote.objects.get(pk=quote.pk)
    return quote_price(quote=now, terms=terms, lines=lines, scope=[], edits=now.edits, actor=actor, at=at)


@pytest.mark.parametrize("terms", TYPED, ids=lambda terms: f"{terms.tax_fraction} {terms.tax_exempt_text}")
def test_what_is_typed_is_stored_and_printed(draft_quote, alice, now, terms):
    price(draft_quote, alice, now, terms)
    stored = Quote.objects.select_related("job__shop", "job__vehicle__customer").get(pk=draft_quote.pk)
    for one in fields(QuoteTerms):
        assert getattr(stored, one.name) == getattr(terms, one.name), one.name
    assert terms_of(stored) == terms
    shown = document_of(stored, on=dt.date(2026, 11, 25))
    told = {name: Decimal(shown["totals"][name]) for name in printed_sums(shown)}
    assert told == printed_sums(shown)
    assert told["total"] == stored.total
    assert (told["tax"], told["deposit"]) == (stored.tax, stored.deposit)
    if terms.tax_exempt_text:
        assert shown["totals"]["tax_text"] == "Tax exempt, certificate EX-77"


def test_what_is_sent_says_the_same(draft_quote, alice, now):
    terms = replace(TYPED[2], title="Solar")
    price(draft_quote, alice, now, terms)
    quote_send(quote=Quote.objects.get(pk=draft_quote.pk), actor=alice, at=now, reason="Friends")
    sent = Quote.objects.get(pk=draft_quote.pk)
    assert terms_of(sent) == terms
    assert printed_sums(sent.snapshot)["total"] == sent.total == Decimal(sent.snapshot["totals"]["total"])
    assert sent.snapshot["title"] == "Solar"


def test_a_copy_takes_the_terms_and_the_total_with_it(draft_quote, alice, now):
    price(draft_quote, alice, now, TYPED[1])
    copy = quote_copy(quote=Quote.objects.get(pk=draft_quote.pk), actor=alice, at=now)
    stored = Quote.objects.get(pk=copy.pk)
    assert terms_of(stored) == TYPED[1]
    assert stored.total == Quote.objects.get(pk=draft_quote.pk).total


def test_the_lines_come_to_the_cent_by_hand(draft_quote, alice, now):
    """3 × 101.37 × 1.31 = 398.3841; 211.11 / 0.63 = 335.0952; 7.3 × 135 = 985.50; 17 × 2.53 = 43.01.

    398.38 + 335.10 + 985.50 + 333.33 + 43.01 + 250.00 - 61.01 = 2284.31; tax 0.0775 × 733.48 = 56.8447.
    """
    price(draft_quote, alice, now, TYPED[0])
    stored = Quote.objects.get(pk=draft_quote.pk)
    assert (stored.subtotal, stored.tax, stored.total) == (
        Decimal("2284.31"), Decimal("56.84"), Decimal("2341.15"),
    )  # fmt: skip
    assert stored.deposit == Decimal("936.46")  # 0.40 × 2341.15


@pytest.mark.parametrize("terms", TYPED[:3], ids=str)
def test_a_change_is_taxed_as_the_accepted_quote(draft_quote, alice, now, terms):
    """Its total is its lines and the quote's tax; the new total is both, less the credit."""
    lines = [*LINES[:2], LINES[3], LINES[6]]
    price(draft_quote, alice, now, terms)
    quote_send(quote=Quote.objects.get(pk=draft_quote.pk), actor=alice, at=now, reason="Friends")
    quote_accept(
        quote=Quote.objects.get(pk=draft_quote.pk), signed_name="Nell Pardee", signature_svg="", at=now
    )
    job = Job.objects.get(pk=draft_quote.job_id)
    job_move(job=job, to=Job.State.DEPOSIT_PAID, actor=ByName("Ken"), at=now)
    facts = ChangeFacts("Rot", "Bob", ("C",), Decimal("49.99"), minimum_fee=Decimal(0))
    order = change_order_create(job=job, facts=facts, lines=lines[:3], actor=alice, at=now)
    shown = change_order_show(order=ChangeOrder.objects.get(pk=order.pk), actor=alice, at=now)
    taxed = (Decimal("733.48") if terms.tax_on_parts else 0) + (
        Decimal("985.50") if terms.tax_on_labour else 0
    )
    total = Decimal("1718.98") + half_up(taxed * terms.tax_fraction)  # 398.38 + 335.10 + 985.50
    assert shown.total == total
    quote_total = Quote.objects.get(pk=draft_quote.pk).total
    printed = re.findall(r"\d+\.\d\d", str(shown.snapshot))
    assert str(total) in printed
    assert str(quote_total + total - Decimal("49.99")) in printed


# --- answers ------------------------------------------------------------------------------------------------


def another(quote, state, number) -> Quote:
    """Return another offer of the same job in some state."""
    return Quote.objects.create(
        job=quote.job, design=quote.design, run=quote.run, number=number, state=state, answer_note="before"
    )


@pytest.mark.parametrize(
    ("state", "ends"),
    [("sent", False), ("superseded", True), ("declined", True), ("expired", True), ("draft", True)],
)
def test_a_no_ends_the_job_unless_another_offer_is_out(sent_quote, now, state, ends):
    other = another(sent_quote, state, 50)
    quote_decline(quote=sent_quote, signed_name="Nell Pardee", reason="Too dear", at=now)
    job = Job.objects.get(pk=sent_quote.job_id)
    assert job.state == (Job.State.DECLINED if ends else Job.State.QUOTED)
    assert Quote.objects.get(pk=other.pk).state == state


def test_a_yes_sets_aside_what_is_out_and_nothing_else(sent_quote, now):
    states = ("sent", "draft", "declined", "superseded", "expired")
    others = [another(sent_quote, state, 50 + place) for place, state in enumerate(states)]
    quote_accept(quote=sent_quote, signed_name="Nell Pardee", signature_svg="", at=now)
    found = {one.pk: one for one in Quote.objects.filter(job=sent_quote.job)}
    after = [(found[one.pk].state, found[one.pk].answer_note) for one in others]
    assert after[0] == ("superseded", f"{sent_quote} was accepted instead")
    assert after[1:] == [(state, "before") for state in states[1:]]
    assert found[sent_quote.pk].answer_note == ""


#: Where a job can be when the customer opens an offer that is out: only one that is quoted can be taken.
MAY_ACCEPT = {Job.State.QUOTED}
#: Where a job can be when an offer is sent: anywhere on the road to a yes, also after a no.
MAY_SEND = {
    Job.State.ENQUIRY, Job.State.SURVEY_BOOKED, Job.State.SURVEYED, Job.State.DESIGNING, Job.State.QUOTED,
    Job.State.DECLINED, Job.State.EXPIRED,
}  # fmt: skip


@pytest.mark.parametrize("state", Job.State.values)
def test_where_a_job_can_be_accepted_from(sent_quote, now, state):
    Job.objects.filter(pk=sent_quote.job_id).update(state=state)
    if state in MAY_ACCEPT:
        assert quote_accept(quote=sent_quote, signed_name="Nell Pardee", signature_svg="", at=now).is_accepted
        return
    with pytest.raises(QuoteNotOpen, match="no longer open for an answer"):
        quote_accept(quote=sent_quote, signed_name="Nell Pardee", signature_svg="", at=now)
    assert Quote.objects.get(pk=sent_quote.pk).is_sent
    assert Job.objects.get(pk=sent_quote.job_id).state == state
    # A no is heard wherever the job is.
    said = quote_decline(quote=sent_quote, signed_name="Nell Pardee", reason="Sold it", at=now)
    assert said.state == Quote.State.DECLINED


@pytest.mark.parametrize("state", Job.State.values)
def test_where_a_quote_can_be_sent_from(draft_quote, alice, now, state):
    Job.objects.filter(pk=draft_quote.job_id).update(state=state)
    if state in MAY_SEND:
        quote_send(quote=draft_quote, actor=alice, at=now, reason="As agreed")
        assert Job.objects.get(pk=draft_quote.job_id).state == Job.State.QUOTED
        return
    with pytest.raises(QuoteRefused, match="price changes go by change order"):
        quote_send(quote=draft_quote, actor=alice, at=now, reason="As agreed")
    assert Quote.objects.get(pk=draft_quote.pk).is_draft


def test_a_no_is_heard_after_the_offer_ran_out_and_a_yes_is_not(sent_quote, now):
    late = now + dt.timedelta(days=90)
    with pytest.raises(QuoteNotOpen, match="was good until"):
        quote_accept(quote=sent_quote, signed_name="Nell Pardee", signature_svg="", at=late)
    said = quote_decline(quote=sent_quote, signed_name="Nell Pardee", reason="Too late", at=late)
    assert said.state == Quote.State.DECLINED


@pytest.mark.parametrize("markup", ["-1", "-1.5"])
def test_a_markup_that_leaves_no_price_has_no_margin(markup):
    with pytest.raises(MoneyError, match="above -100%"):
        margin_of_markup(Decimal(markup))
