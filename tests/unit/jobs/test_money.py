"""Sums of money, to the cent.

The figures are arithmetic worked by hand beside each test; the rounding rule (half up per line, tax on the
rounded taxable sum) is the shop's own, common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import LineKind
from jobs.quote import money
from jobs.quote.lines import LineDraft, Rates, labour, priced

RATES = Rates(Decimal(135), Decimal(215), Decimal(62), Decimal("0.70"), Decimal("0.30"))
TAX = money.TaxRule(Decimal("0.0775"))


def trailer_lines() -> list[LineDraft]:
    """Return parts of 4,180.00 at 30 %, 22.5 h at 135, 4 % consumables, 46 miles at 2.50, 250 allowance."""
    return [
        LineDraft(LineKind.PART, "All parts", unit_cost=Decimal("4180.00"), markup=Decimal("0.30")),
        labour("L05", "Work", Decimal("22.5"), RATES),
        LineDraft(LineKind.CONSUMABLES, "Sealant", quantity=Decimal("0.04"), unit=money.SHARE_OF_PARTS),
        LineDraft(LineKind.TRAVEL, "Travel", quantity=Decimal(46), unit="mile", unit_price=Decimal("2.50")),
        LineDraft(LineKind.ALLOWANCE, "Roof allowance", unit_price=Decimal("250.00")),
    ]


def test_a_whole_quote_comes_to_the_cent():
    sums = money.totals(priced(trailer_lines(), RATES), tax=TAX, deposit_fraction=Decimal("0.40"))
    assert sums.by_kind == {
        LineKind.PART: Decimal("5434.00"),  # 4180 × 1.30
        LineKind.LABOUR: Decimal("3037.50"),  # 22.5 × 135
        LineKind.CONSUMABLES: Decimal("167.20"),  # 0.04 × 4180
        LineKind.TRAVEL: Decimal("115.00"),  # 46 × 2.50
        LineKind.ALLOWANCE: Decimal("250.00"),
    }
    assert sums.subtotal == Decimal("9003.70")
    assert sums.tax == Decimal("434.09")  # 0.0775 × (5434.00 + 167.20) = 434.093
    assert sums.total == Decimal("9437.79")
    assert sums.deposit == Decimal("3775.12")  # 0.40 × 9437.79 = 3775.116
    assert sums.direct_cost == Decimal("5774.40")  # 4180 + 167.20 + 22.5 × 62 + 46 × 0.70
    assert round(sums.margin_fraction, 4) == Decimal("0.3587")


def test_thirty_percent_margin_is_not_thirty_percent_markup():
    by_markup, by_margin = priced(
        [
            LineDraft(LineKind.PART, "x", unit_cost=Decimal(4180), markup=Decimal("0.30")),
            LineDraft(LineKind.PART, "x", unit_cost=Decimal(4180), markup=Decimal("0.30"), is_margin=True),
        ],
        RATES,
    )
    assert by_markup.amount == Decimal("5434.00")
    assert by_margin.amount == Decimal("5971.43")  # 4180 / 0.70


def test_markup_and_margin_turn_into_each_other():
    assert round(money.margin_of_markup(Decimal("0.30")), 3) == Decimal("0.231")
    assert round(money.markup_of_margin(Decimal("0.35")), 3) == Decimal("0.538")


@pytest.mark.parametrize(
    ("cost", "price"),
    [
        ("0", "0"),
        ("49.99", "79.984"),  # 49.99 × 1.60
        ("50", "80"),
        ("60", "94"),  # 80 + 10 × 1.40
        ("499.99", "709.986"),  # 80 + 449.99 × 1.40
        ("500", "710"),
        ("2499", "3268.72"),  # 710 + 1999 × 1.28
        ("2500", "3270"),
        ("3000", "3870"),  # 3270 + 500 × 1.20
    ],
)
def test_each_band_of_the_cost_carries_its_own_markup(cost, price):
    assert money.banded_price(Decimal(cost)) == Decimal(price)


@given(cents=st.integers(min_value=0, max_value=1_000_000), more=st.integers(min_value=1, max_value=10_000))
def test_a_dearer_part_never_sells_for_less(cents, more):
    cheap, dear = (money.banded_price(Decimal(cost) / 100) for cost in (cents, cents + more))
    assert dear > cheap


def test_the_margin_is_unknown_while_a_price_is_missing():
    missing = LineDraft(LineKind.PART, "Fuse or breaker 60 A")
    lines = priced([*trailer_lines(), missing], RATES)
    assert money.totals(lines, tax=TAX, deposit_fraction=Decimal(0)).margin_fraction is None
    free = [
        replace(line, free_reason="on the house") if line.text == missing.text else line for line in lines
    ]
    assert round(money.totals(free, tax=TAX, deposit_fraction=Decimal(0)).margin_fraction or 0, 4) == Decimal(
        "0.3587"
    )


def test_a_free_part_still_costs_the_shop():
    part = LineDraft(LineKind.PART, "Label set", unit_cost=Decimal(12), free_reason="goodwill")
    (line,) = priced([part], RATES)
    sums = money.totals([line], tax=TAX, deposit_fraction=Decimal(0))
    assert (line.unit_price, sums.direct_cost) == (0, 12)


@pytest.mark.parametrize(("amount", "rounded"), [("0.005", "0.01"), ("2.675", "2.68"), ("-0.005", "-0.01")])
def test_half_a_cent_rounds_away_from_zero(amount, rounded):
    assert money.cent(Decimal(amount)) == Decimal(rounded)


def test_an_exempt_sale_is_not_taxed():
    exempt = money.TaxRule(Decimal("0.0775"), is_exempt=True)
    sums = money.totals(priced(trailer_lines(), RATES), tax=exempt, deposit_fraction=Decimal("0.40"))
    assert sums.tax == 0
    assert sums.total == sums.subtotal == Decimal("9003.70")


def test_labour_is_taxed_where_the_law_says_so():
    both = money.TaxRule(Decimal("0.10"), on_labour=True)
    sums = money.totals(priced(trailer_lines(), RATES), tax=both, deposit_fraction=Decimal(0))
    assert sums.tax == Decimal("863.87")  # 0.10 × (5434.00 + 167.20 + 3037.50) = 863.870


def test_a_discount_counts_down_and_a_customers_part_is_free():
    lines = priced(
        [
            labour("L01", "Work", Decimal(1), RATES),
            LineDraft(LineKind.DISCOUNT, "Survey credited", unit_price=Decimal(120)),
            LineDraft(LineKind.CUSTOMER_PART, "Own panel", unit_price=Decimal(300), unit_cost=Decimal(200)),
        ],
        RATES,
    )
    sums = money.totals(lines, tax=TAX, deposit_fraction=Decimal(0))
    assert sums.subtotal == Decimal("15.00")
    assert sums.direct_cost == Decimal("62.00")


def test_optional_lines_are_offered_not_charged():
    option = LineDraft(
        LineKind.PART, "Soft starter", unit_cost=Decimal(265), markup=Decimal("0.4"), is_optional=True
    )
    sums = money.totals(priced([*trailer_lines(), option], RATES), tax=TAX, deposit_fraction=Decimal("0.40"))
    assert sums.total == Decimal("9437.79")
    assert sums.optional == Decimal("371.00")


def test_two_people_cost_twice_and_charge_the_pair_rate():
    (line,) = priced([labour("L05", "Mount", Decimal("3.6"), RATES, is_pair=True)], RATES)
    assert line.amount == Decimal("774.00")  # 3.6 × 215
    assert line.unit_cost == Decimal(124)


@pytest.mark.parametrize("margin", ["1", "1.5"])
def test_a_margin_of_all_or_more_is_refused(margin):
    with pytest.raises(money.MoneyError, match="under 100%"):
        money.price_for_margin(Decimal(100), Decimal(margin))
    with pytest.raises(money.MoneyError, match="under 100%"):
        money.markup_of_margin(Decimal(margin))


def test_nothing_charged_has_no_margin():
    assert money.margin_fraction(Decimal(10), Decimal(0)) is None
    assert money.totals([], tax=TAX, deposit_fraction=Decimal("0.4")).margin_fraction is None


@dataclass(frozen=True)
class Typed:
    """A line as any caller may bring one."""

    kind: str
    quantity: Decimal
    unit_price: Decimal
    unit: str = "each"
    unit_cost: Decimal = money.ZERO
    is_optional: bool = False
    free_reason: str = ""

    @property
    def amount(self) -> Decimal:
        return money.line_amount(self.kind, self.quantity, self.unit_price)


amounts = st.decimals(min_value=0, max_value=9999, places=2)
kinds = st.sampled_from([LineKind.PART, LineKind.LABOUR, LineKind.TRAVEL, LineKind.DISCOUNT])
lines_of_any_kind = st.lists(st.builds(Typed, kind=kinds, quantity=amounts, unit_price=amounts), max_size=12)


@given(lines=lines_of_any_kind)
def test_the_order_of_lines_changes_no_sum(lines):
    forward = money.totals(lines, tax=TAX, deposit_fraction=Decimal("0.4"))
    backward = money.totals(list(reversed(lines)), tax=TAX, deposit_fraction=Decimal("0.4"))
    assert (forward.subtotal, forward.tax, forward.total) == (backward.subtotal, backward.tax, backward.total)


@given(lines=lines_of_any_kind)
def test_the_printed_amounts_add_up_to_the_printed_total(lines):
    sums = money.totals(lines, tax=TAX, deposit_fraction=Decimal("0.4"))
    printed = sum(
        (money.line_amount(line.kind, line.quantity, line.unit_price) for line in lines), Decimal(0)
    )
    assert printed == sums.subtotal
    assert sums.subtotal + sums.tax == sums.total


@given(cost=st.decimals(min_value="0.01", max_value=100_000, places=2), share=st.decimals(0, "0.9", places=3))
def test_a_margin_never_asks_less_than_the_same_markup(cost, share):
    assert money.price_for_margin(cost, share) >= money.part_price(cost, share)


def test_only_consumables_told_as_a_share_are_a_share():
    """Twelve tubes at 9.90 are counted; 4 % of parts of 4,180.00 are a share; a part is never one."""
    assert money.is_share(LineKind.CONSUMABLES, money.SHARE_OF_PARTS)
    assert not money.is_share(LineKind.CONSUMABLES, "each")
    assert not money.is_share(LineKind.PART, money.SHARE_OF_PARTS)
    tubes = LineDraft(LineKind.CONSUMABLES, "Tubes", quantity=Decimal(12), unit_price=Decimal("9.90"))
    sums = money.totals(priced([*trailer_lines(), tubes], RATES), tax=TAX, deposit_fraction=Decimal(0))
    assert sums.by_kind[LineKind.CONSUMABLES] == Decimal("286.00")  # 167.20 + 118.80


@pytest.mark.parametrize(
    ("counts_in", "unit", "cost"),
    [
        ("mile", "mile", "0.70"),
        ("km", "km", "0.70"),
        ("mile", "km", "0.4350"),  # 0.70 / 1.609344 (NIST SP 811)
        ("km", "mile", "1.1265"),  # 0.70 × 1.609344
    ],
)
def test_a_way_costs_by_its_own_unit(counts_in, unit, cost):
    (line,) = priced([LineDraft(LineKind.TRAVEL, "Way", unit=unit)], replace(RATES, way_unit=counts_in))
    assert line.unit_cost == Decimal(cost)


@pytest.mark.parametrize(
    ("currency", "amount", "tax", "total"),
    [
        ("JPY", "111", "9", "120"),  # 3 × 37 = 111; 0.0775 × 111 = 8.6025
        ("USD", "111.01", "8.60", "119.61"),  # 3 × 37.0035 = 111.0105; 0.0775 × 111.01 = 8.603275
        ("KWD", "111.011", "8.603", "119.614"),  # 111.0105 half up; 0.0775 × 111.011 = 8.6033525
    ],
)
def test_sums_have_the_decimals_of_the_currency(currency, amount, tax, total):
    price = Decimal(37) if currency == "JPY" else Decimal("37.0035")
    line = LineDraft(LineKind.CONSUMABLES, "Tubes", quantity=Decimal(3), unit_price=price)
    (line,) = priced([line], replace(RATES, currency=currency))
    sums = money.totals([line], tax=TAX, deposit_fraction=Decimal("0.5"), currency=currency)
    assert [str(each) for each in (line.amount, sums.tax, sums.total)] == [amount, tax, total]


def _discounted() -> list[LineDraft]:
    """Return parts of 600.00, hours of 400.00 and a discount of 100.00."""
    part = LineDraft(LineKind.PART, "Panel", unit_cost=Decimal(600), markup=Decimal(0))
    work = LineDraft(LineKind.LABOUR, "Work", quantity=Decimal(4), unit_price=Decimal(100))
    return priced([part, work, LineDraft(LineKind.DISCOUNT, "Rally", unit_price=Decimal(100))], RATES)


def test_a_discount_leaves_the_tax_where_the_state_says_so():
    rule = money.TaxRule(Decimal("0.10"))
    sums = money.totals(_discounted(), tax=rule, deposit_fraction=Decimal(0))
    assert (sums.taxable, sums.tax, sums.total) == (600, 60, 960)  # 600 + 400 − 100 + 0.10 × 600


def test_a_discount_lowers_the_tax_where_the_state_says_so():
    rule = money.TaxRule(Decimal("0.10"), discount_lowers_base=True)
    sums = money.totals(_discounted(), tax=rule, deposit_fraction=Decimal(0))
    # 600 of 1,000 is taxed, so 60 of the 100 come off it: 0.10 × 540
    assert (sums.taxable, sums.tax, sums.total) == (540, 54, 954)


def test_each_kind_is_taxed_at_its_own_rate():
    rates = {LineKind.PART: Decimal("0.20"), LineKind.LABOUR: Decimal("0.05")}
    rule = money.TaxRule(Decimal(0), by_kind=rates, discount_lowers_base=True)
    sums = money.totals(_discounted(), tax=rule, deposit_fraction=Decimal(0))
    assert sums.by_rate == (  # the discount falls 60 on parts, 40 on hours
        money.RateSum(Decimal("0.05"), Decimal("360.00"), Decimal("18.00")),
        money.RateSum(Decimal("0.20"), Decimal("540.00"), Decimal("108.00")),
    )
    assert sums.total == Decimal("1026.00")  # 900 + 18 + 108
    exempt = replace(rule, is_exempt=True)
    assert money.totals(_discounted(), tax=exempt, deposit_fraction=Decimal(0)).by_rate == ()


@dataclass(frozen=True)
class Stored(Typed):
    """A line with its place in the quote."""

    position: int = 0


def test_an_add_on_that_was_taken_costs_what_stands_beside_it():
    lines = [
        Stored(LineKind.PART, Decimal(1), Decimal(1300), unit_cost=Decimal(1000), position=1),
        Stored(LineKind.CONSUMABLES, Decimal("0.04"), Decimal(1000), unit=money.SHARE_OF_PARTS, position=2),
        Stored(LineKind.PART, Decimal(2), Decimal(130), unit_cost=Decimal(100), is_optional=True, position=3),
        Stored(LineKind.PART, Decimal(1), Decimal(500), is_optional=True, position=4),
    ]
    rule = money.TaxRule(Decimal("0.10"))
    without = money.totals(lines, tax=rule, deposit_fraction=Decimal("0.5"))
    assert (without.subtotal, without.total, without.optional) == (1340, 1474, 760)  # 1300 + 40
    taken = money.totals(lines, tax=rule, deposit_fraction=Decimal("0.5"), chosen=[3])
    assert (taken.subtotal, taken.tax, taken.total) == (1600, 160, 1760)  # + 2 × 130; the share stays 40
    assert (taken.deposit, taken.optional, taken.direct_cost) == (880, 500, 1240)  # 1000 + 40 + 2 × 100
