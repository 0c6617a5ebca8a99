"""Every sum of money: how a line is rounded, what is taxed, what the shop pays, what is left.

Decimal only. A line is rounded half up to the cent, once; tax is taken on the rounded taxable sum.
F25 is the part price, F29 the margin; a markup and a margin of the same percent are different prices.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Protocol

from jobs.models import LineKind
from jobs.models.quote import SHARE_OF_PARTS, Amounted, is_unpriced

CENT: Final = Decimal("0.01")
TEN_THOUSANDTH: Final = Decimal("0.0001")
ZERO: Final = Decimal(0)
#: Markup of what of a piece's cost lies in each band, as tax brackets are: dear parts carry less, and
#: a dearer part never sells for less. Starting values of ours, no source. [cost, fraction]
MARKUP_BANDS: Final = (
    (Decimal(50), Decimal("0.60")),
    (Decimal(500), Decimal("0.40")),
    (Decimal(2500), Decimal("0.28")),
)
MARKUP_ABOVE_BANDS: Final = Decimal("0.20")
#: Kinds taxed with parts; allowances, travel, sub-contracts, disposal and discounts are not taxed here.
TAXED_WITH_PARTS: Final = frozenset({LineKind.PART, LineKind.CONSUMABLES})


class MoneyError(ValueError):
    """A sum that cannot be asked: names the quantity and what came in."""


class PricedLine(Amounted, Protocol):
    """What a sum needs to know of a line; stored lines and lines being typed both have it."""

    @property
    def quantity(self) -> Decimal:
        """Return how many."""

    @property
    def unit_cost(self) -> Decimal:
        """Return what one costs the shop."""

    @property
    def unit_price(self) -> Decimal:
        """Return what one is sold for."""

    @property
    def is_optional(self) -> bool:
        """Return whether it is offered, not charged."""


@dataclass(frozen=True, slots=True)
class TaxRule:
    """What is taxed and how much of it; an exempt sale keeps its certificate in words."""

    fraction: Decimal
    on_parts: bool = True
    on_labour: bool = False
    is_exempt: bool = False

    def is_taxed(self, kind: str) -> bool:
        """Return whether lines of this kind are taxed."""
        if self.is_exempt:
            return False
        return (self.on_parts and kind in TAXED_WITH_PARTS) or (self.on_labour and kind == LineKind.LABOUR)


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of a quote or change order. ``by_kind`` holds what each kind comes to.

    The margin is unknown (None) while a line in the price has no price.
    """

    subtotal: Decimal
    taxable: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    parts_cost: Decimal
    direct_cost: Decimal
    margin_fraction: Decimal | None
    by_kind: Mapping[str, Decimal]
    optional: Decimal


def cent(amount: Decimal) -> Decimal:
    """Return an amount rounded half up to the cent."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def part_price(cost: Decimal, markup: Decimal) -> Decimal:
    """Return the price of a part by F25, ``cost × (1 + markup)``, to a hundredth of a cent."""
    return (cost * (1 + markup)).quantize(TEN_THOUSANDTH, rounding=ROUND_HALF_UP)


def price_for_margin(cost: Decimal, margin: Decimal) -> Decimal:
    """Return the price that leaves this margin, ``cost / (1 - margin)``; raise MoneyError from 1 up."""
    if margin >= 1:
        raise MoneyError(f"a margin must be under 100%, got {margin * 100:f}%")
    return (cost / (1 - margin)).quantize(TEN_THOUSANDTH, rounding=ROUND_HALF_UP)


def margin_fraction(cost: Decimal, price: Decimal) -> Decimal | None:
    """Return the margin by F29, ``1 - cost/price``; None where nothing is charged."""
    if price <= 0:
        return None
    return 1 - cost / price


def margin_of_markup(markup: Decimal) -> Decimal:
    """Return the margin that a markup leaves: 30 % on top of cost is 23.1 % of the price."""
    if markup <= -1:
        raise MoneyError(f"a markup must be above -100%, got {markup * 100:f}%")
    return markup / (1 + markup)


def markup_of_margin(margin: Decimal) -> Decimal:
    """Return the markup that a margin needs: 35 % of the price is 53.8 % on top of cost."""
    if margin >= 1:
        raise MoneyError(f"a margin must be under 100%, got {margin * 100:f}%")
    return margin / (1 - margin)


def banded_price(cost: Decimal) -> Decimal:
    """Return the price of a part marked up by bands, to a hundredth of a cent.

    Each band's markup is taken on the part of the cost within it: 60 costs 50 at 60% and 10 at 40%, and sells
    for 94.
    """
    price, floor = ZERO, ZERO
    for below, markup in MARKUP_BANDS:
        price += max(min(cost, below) - floor, ZERO) * (1 + markup)
        floor = below
    price += max(cost - floor, ZERO) * (1 + MARKUP_ABOVE_BANDS)
    return price.quantize(TEN_THOUSANDTH, rounding=ROUND_HALF_UP)


def line_amount(kind: str, quantity: Decimal, unit_price: Decimal) -> Decimal:
    """Return what a line comes to, rounded half up once; a discount counts down, a customer's part is 0."""
    if kind == LineKind.CUSTOMER_PART:
        return ZERO.quantize(CENT)
    amount = cent(quantity * unit_price)
    return -abs(amount) if kind == LineKind.DISCOUNT else amount


def parts_cost(lines: Iterable[PricedLine]) -> Decimal:
    """Return what the parts that are in the price cost the shop."""
    return sum(
        (
            line.quantity * line.unit_cost
            for line in lines
            if line.kind == LineKind.PART and not line.is_optional
        ),
        ZERO,
    )


def totals(lines: Iterable[PricedLine], *, tax: TaxRule, deposit_fraction: Decimal) -> Totals:
    """Return the sums of these lines. Optional lines are added up apart and are not in the total."""
    chosen, optional = _split(lines)
    cost_of_parts = parts_cost(chosen)
    by_kind: dict[str, Decimal] = {}
    direct_cost = ZERO
    for line in chosen:
        amount, cost = _amount_and_cost(line, cost_of_parts)
        by_kind[line.kind] = by_kind.get(line.kind, ZERO) + amount
        direct_cost += cost
    subtotal = sum(by_kind.values(), ZERO)
    taxable = sum((amount for kind, amount in by_kind.items() if tax.is_taxed(kind)), ZERO)
    tax_amount = cent(taxable * tax.fraction)
    total = subtotal + tax_amount
    return Totals(
        subtotal=cent(subtotal),
        taxable=cent(taxable),
        tax=tax_amount,
        total=cent(total),
        deposit=cent(max(total, ZERO) * deposit_fraction),
        parts_cost=cent(cost_of_parts),
        direct_cost=cent(direct_cost),
        margin_fraction=None
        if any(is_unpriced(line) for line in chosen)
        else margin_fraction(cent(direct_cost), cent(subtotal)),
        by_kind=by_kind,
        optional=sum((_amount_and_cost(line, cost_of_parts)[0] for line in optional), ZERO),
    )


def is_share(kind: str, unit: str) -> bool:
    """Return whether a line is a share of the parts cost instead of a count of pieces."""
    return kind == LineKind.CONSUMABLES and unit == SHARE_OF_PARTS


def _split(lines: Iterable[PricedLine]) -> tuple[list[PricedLine], list[PricedLine]]:
    chosen: list[PricedLine] = []
    optional: list[PricedLine] = []
    for line in lines:
        (optional if line.is_optional else chosen).append(line)
    return chosen, optional


def _amount_and_cost(line: PricedLine, cost_of_parts: Decimal) -> tuple[Decimal, Decimal]:
    """Return what a line comes to and what it costs the shop; a share is sold at what it costs."""
    if is_share(line.kind, line.unit):
        amount = cent(line.quantity * cost_of_parts)
        return amount, amount
    cost = ZERO if line.kind == LineKind.DISCOUNT else line.quantity * line.unit_cost
    return line_amount(line.kind, line.quantity, line.unit_price), cost
