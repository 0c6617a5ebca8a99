"""Offers, payments and credit notes against sums in exact fractions, written from the trade's rules alone.

The rules, from the shop's own way of quoting: the price of a part is cost × (1 + markup); a line is what it
comes to, rounded half up to the smallest unit of the currency; consumables are a share of the parts' cost;
tax is the rate times the sum of the taxed lines, rounded once a rate; a discount comes off, and lowers what
is taxed by each kind's share of the price where the state says so; an extra that was taken adds its own
amount; the deposit is a share of the total. All invoices of a job together ask for what was agreed, no more,
no less. Nothing here is taken from the code but the functions under test.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

import pytest

from common.currency import digits_text
from jobs.ledger.sums import Bill, as_texts, bill_from, part_of
from jobs.models import LineKind
from jobs.quote import money
from jobs.quote.lines import LineDraft, Rates, priced

#: Minor units of ISO 4217, typed from the standard.
PLACES = {"JPY": 0, "KRW": 0, "USD": 2, "EUR": 2, "BHD": 3, "KWD": 3, "TND": 3}
KINDS = ("labour", "part", "consumables", "travel", "call_out", "allowance", "subcontract", "disposal")
SHORT = 400
FULL = 100_000


def half_up(value: Fraction, places: int) -> Fraction:
    """Round half away from zero."""
    scaled = abs(value) * 10**places
    whole = (scaled + Fraction(1, 2)).__floor__()
    return Fraction(whole if value >= 0 else -whole, 10**places)


@dataclass
class Told:
    """A line as it is told to both sides."""

    kind: str
    quantity: Fraction
    cost: Fraction
    price: Fraction  # a part: its markup
    is_extra: bool = False
    is_taken: bool = False
    is_share: bool = False


@dataclass
class Case:
    """An offer with what is done with it."""

    currency: str
    lines: list[Told]
    discount: Fraction
    rates: dict[str, Fraction]
    lowers: bool
    deposit: Fraction
    parts: list[Fraction] = field(default_factory=list)
    credit: Fraction = Fraction(0)


def number(draw: random.Random, top: int, places: int) -> Fraction:
    """Return a number of 0 to top with so many decimals, often a round one or one that ends in a half."""
    unit = 10**places
    digits = draw.randrange(top * unit + 1)
    if draw.random() < 0.3:
        digits -= digits % max(unit // 2, 1)
    return Fraction(digits, unit)


def case(seed: int) -> Case:
    """Return a drawn offer."""
    draw = random.Random(seed)
    currency = draw.choice(list(PLACES))
    lines = []
    for _ in range(draw.randint(1, 12)):
        kind = draw.choice(KINDS)
        is_part, is_extra = kind == "part", draw.random() < 0.2
        cost = number(draw, 3000, 4) if is_part else Fraction(0)
        price = number(draw, 2, 4) if is_part else number(draw, 900, 4)
        if kind == "disposal" and draw.random() < 0.5:
            price = -price / 10
            price = Fraction(round(price * 10_000), 10_000)
        lines.append(Told(kind, number(draw, 12, 3), cost, price, is_extra, is_extra and draw.random() < 0.5))
    if draw.random() < 0.6:
        lines.append(Told("consumables", number(draw, 1, 5) / 10, Fraction(0), Fraction(0), is_share=True))
        lines[-1].quantity = Fraction(round(lines[-1].quantity * 100_000), 100_000)
    usual = [Fraction(0), Fraction(775, 10_000), Fraction(1, 10), Fraction(19, 100), Fraction(88, 1000)]
    rates = {kind: draw.choice(usual) for kind in KINDS}
    found = Case(
        currency, lines, number(draw, 300, 2) if draw.random() < 0.5 else Fraction(0), rates,
        draw.random() < 0.5, draw.choice([Fraction(2, 5), Fraction(1, 2), Fraction(1)]),
    )  # fmt: skip
    found.parts = [Fraction(draw.randint(1, 60), 100) for _ in range(draw.randint(0, 3))]
    found.credit = Fraction(draw.randint(1, 100), 100)
    return found


def on_paper(case: Case) -> dict[str, object]:
    """Return what the offer comes to by the rules, in exact fractions."""
    places = PLACES[case.currency]
    in_price = [line for line in case.lines if not line.is_extra or line.is_taken]
    cost = sum(
        (line.quantity * line.cost for line in case.lines if line.kind == "part" and not line.is_extra),
        Fraction(0),
    )
    sold: dict[str, Fraction] = {}
    amounts = []
    for line in in_price:
        if line.is_share:
            exact = line.quantity * cost
        elif line.kind == "part":
            exact = line.quantity * half_up(line.cost * (1 + line.price), 4)  # a price has four decimals
        else:
            exact = line.quantity * line.price
        amount = half_up(exact, places)
        amounts.append(amount)
        sold[line.kind] = sold.get(line.kind, Fraction(0)) + amount
    before = sum(sold.values(), Fraction(0))
    discount = half_up(case.discount, places)
    taxes: dict[Fraction, tuple[Fraction, Fraction]] = {}
    for rate in sorted({case.rates[kind] for kind in sold} - {Fraction(0)}):
        base = sum((amount for kind, amount in sold.items() if case.rates[kind] == rate), Fraction(0))
        if case.lowers and before > 0:
            base = half_up(base - discount * base / before, places)
        taxes[rate] = (base, half_up(base * rate, places))
    subtotal = before - discount
    total = subtotal + sum((tax for _, tax in taxes.values()), Fraction(0))
    deposit = half_up(max(total, Fraction(0)) * case.deposit, places)
    return {
        "amounts": amounts, "subtotal": subtotal, "taxes": taxes, "total": total, "deposit": deposit,
    }  # fmt: skip


def exact(value: Fraction) -> Decimal:
    """Return a fraction that ends as the decimal it is."""
    found = Decimal(value.numerator) / Decimal(value.denominator)
    assert Fraction(found) == value
    return found


@dataclass(frozen=True)
class Row:
    """A priced line with its place, as stored ones have it."""

    kind: str
    quantity: Decimal
    unit: str
    unit_cost: Decimal
    unit_price: Decimal
    amount: Decimal
    is_optional: bool
    position: int
    free_reason: str = ""


def by_the_code(case: Case) -> tuple[money.Totals, list[Row]]:
    """Return what the code makes of the offer."""
    rates = Rates(Decimal(1), Decimal(1), Decimal(0), Decimal(0), Decimal(0), currency=case.currency)
    drafts = [
        LineDraft(
            line.kind, "Line", quantity=exact(line.quantity), unit_cost=exact(line.cost),
            unit=money.SHARE_OF_PARTS if line.is_share else "each", is_optional=line.is_extra,
            markup=exact(line.price) if line.kind == "part" else None,
            unit_price=Decimal(0) if line.kind == "part" or line.is_share else exact(line.price),
        )
        for line in case.lines
    ]  # fmt: skip
    if case.discount:
        drafts.append(LineDraft(LineKind.DISCOUNT, "Discount", unit_price=exact(case.discount)))
    lines = [
        Row(
            line.kind, line.quantity, line.unit, line.unit_cost, line.unit_price, line.amount,
            line.is_optional, place,
        )
        for place, line in enumerate(priced(drafts, rates), start=1)
    ]  # fmt: skip
    taken = [place for place, line in enumerate(case.lines, start=1) if line.is_taken]
    rule = money.TaxRule(
        Decimal(0),
        by_kind={kind: exact(rate) for kind, rate in case.rates.items()},
        discount_lowers_base=case.lowers,
    )
    sums = money.totals(
        lines, tax=rule, deposit_fraction=exact(case.deposit), currency=case.currency, chosen=taken
    )
    shown = [line for line in lines if not line.is_optional or line.position in taken]
    return sums, shown


def check_offer(case: Case) -> Bill:
    """Hold the sums of an offer to those on paper, and its shown lines to its shown totals."""
    paper, (sums, shown) = on_paper(case), by_the_code(case)
    assert [Fraction(line.amount) for line in shown if line.kind != "discount"] == paper["amounts"]
    assert Fraction(sums.subtotal) == paper["subtotal"]
    taxes = {Fraction(each.rate): (Fraction(each.base), Fraction(each.tax)) for each in sums.by_rate}
    assert taxes == paper["taxes"]
    assert (Fraction(sums.total), Fraction(sums.deposit)) == (paper["total"], paper["deposit"])
    assert sum((line.amount for line in shown), Decimal(0)) == sums.subtotal
    assert sums.subtotal + sums.tax == sums.total
    for printed in (sums.total, sums.tax, sums.deposit):
        assert Decimal(digits_text(printed, case.currency)) == printed
    return Bill(sums.total, sums.by_rate)


def check_invoices(case: Case, agreed: Bill) -> None:
    """Invoice the offer in parts with a credit note between them: together they hold what was agreed."""
    places = PLACES[case.currency]
    smallest = Fraction(1, 10**places)
    billed = Bill()
    for share in case.parts:
        amount = half_up(Fraction((agreed - billed).total) * share, places)
        if amount <= 0:
            continue
        left = agreed - billed
        part = part_of(left, exact(amount), case.currency)
        assert Fraction(part.total) == amount
        shares = [(each.rate, each.base + each.tax, each.tax) for each in part.rates]
        for rate, gross, tax in shares:  # each rate its share, to one unit; its tax, to one unit
            whole = sum((one.base + one.tax for one in left.rates if one.rate == rate), Decimal(0))
            fair = Fraction(whole) * amount / Fraction(left.total)
            assert abs(Fraction(gross) - fair) <= smallest
            assert abs(Fraction(tax) - Fraction(gross) * Fraction(rate) / (1 + Fraction(rate))) <= smallest
        billed += bill_from(part.total, as_texts(part))  # as it is stored
        back = part_of(part, exact(half_up(amount * case.credit, places)), case.currency)
        billed -= back
        assert Fraction(billed.total) == sum_of(billed)
    final = agreed - billed
    together = billed + final
    assert (together.total, together.tax) == (agreed.total, agreed.tax)
    assert {one.rate: (one.base, one.tax) for one in together.rates} == {
        one.rate: (one.base, one.tax) for one in agreed.rates if one.base or one.tax
    }


def sum_of(bill: Bill) -> Fraction:
    """Return untaxed, bases and taxes of a bill together."""
    rates = sum((Fraction(each.base) + Fraction(each.tax) for each in bill.rates), Fraction(0))
    return Fraction(bill.untaxed) + rates


def check(seeds: range) -> None:
    for seed in seeds:
        drawn = case(seed)
        try:
            check_invoices(drawn, check_offer(drawn))
        except AssertionError as problem:
            raise AssertionError(f"offer {seed}: {drawn}") from problem


def test_offers_and_their_invoices_equal_exact_fractions():
    check(range(SHORT))


@pytest.mark.full
@pytest.mark.parametrize("piece", range(20))
def test_a_hundred_thousand_offers(piece):
    size = FULL // 20
    check(range(piece * size, (piece + 1) * size))


def test_the_paper_gives_the_story_of_the_trailer():
    """Parts 4,180.00 at 30 %, 22.5 h at 135, 4 % consumables, 46 miles at 2.50, 250 allowance, 7.75 % tax."""
    told = [
        Told("part", Fraction(1), Fraction(4180), Fraction(3, 10)),
        Told("labour", Fraction(45, 2), Fraction(0), Fraction(135)),
        Told("consumables", Fraction(4, 100), Fraction(0), Fraction(0), is_share=True),
        Told("travel", Fraction(46), Fraction(0), Fraction(5, 2)),
        Told("allowance", Fraction(1), Fraction(0), Fraction(250)),
    ]
    rates = dict.fromkeys(KINDS, Fraction(0)) | dict.fromkeys(("part", "consumables"), Fraction(775, 10_000))
    trailer = Case("USD", told, Fraction(0), rates, False, Fraction(2, 5))
    paper = on_paper(trailer)
    assert (paper["subtotal"], paper["total"]) == (Fraction("9003.70"), Fraction("9437.79"))
    assert paper["deposit"] == Fraction("3775.12")
    check_offer(trailer)
    rot = [
        Told("labour", Fraction(4), Fraction(0), Fraction(135)),
        Told("part", Fraction(1), Fraction(92), Fraction(3, 10)),
    ]
    change = Case("USD", rot, Fraction(0), rates, False, Fraction(0))
    assert on_paper(change)["total"] == Fraction("668.87")
    check_offer(change)
    assert Fraction("9437.79") + Fraction("668.87") - 250 == Fraction("9856.66")
