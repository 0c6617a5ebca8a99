"""Every sum of money: how a line is rounded, what is taxed, what the shop pays, what is left.

Decimal only. A line is rounded half up to the smallest unit of the shop's currency, once; tax is taken on the
rounded taxable sum of each rate. F25 is the part price, F29 the margin; a markup and a margin of the same
percent are different prices.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Protocol

from common.currency import USUAL, rounded
from jobs.models import LineKind
from jobs.models.quote import SHARE_OF_PARTS, Amounted, is_unpriced

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
    """What is taxed and how much of it; an exempt sale keeps its certificate in words.

    ``by_kind`` gives kinds of lines rates of their own, and then rules alone. Where ``discount_lowers_base``,
    a discount comes off every kind by its share of the price before the tax is taken.
    """

    fraction: Decimal
    on_parts: bool = True
    on_labour: bool = False
    is_exempt: bool = False
    by_kind: Mapping[str, Decimal] | None = None
    discount_lowers_base: bool = False

    def rate_of(self, kind: str) -> Decimal:
        """Return the share of a line of this kind that is taken as tax."""
        if self.is_exempt or kind == LineKind.DISCOUNT:
            return ZERO
        if self.by_kind is not None:
            return self.by_kind.get(kind, ZERO)
        is_taxed = (self.on_parts and kind in TAXED_WITH_PARTS) or (
            self.on_labour and kind == LineKind.LABOUR
        )
        return self.fraction if is_taxed else ZERO

    def is_taxed(self, kind: str) -> bool:
        """Return whether lines of this kind are taxed."""
        return self.rate_of(kind) != ZERO


@dataclass(frozen=True, slots=True)
class RateSum:
    """What is sold at one rate of tax, and the tax on it."""

    rate: Decimal
    base: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of a quote or change order. ``by_kind`` holds what each kind comes to, ``by_rate`` what is
    taxed at each rate, lowest first.

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
    by_rate: tuple[RateSum, ...]
    optional: Decimal


def cent(amount: Decimal, currency: str = USUAL) -> Decimal:
    """Return an amount rounded half up to the smallest unit of the currency."""
    return rounded(amount, currency)


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


def line_amount(kind: str, quantity: Decimal, unit_price: Decimal, currency: str = USUAL) -> Decimal:
    """Return what a line comes to, rounded half up once; a discount counts down, a customer's part is 0."""
    if kind == LineKind.CUSTOMER_PART:
        return rounded(ZERO, currency)
    amount = rounded(quantity * unit_price, currency)
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


def totals(
    lines: Iterable[PricedLine],
    *,
    tax: TaxRule,
    deposit_fraction: Decimal,
    currency: str = USUAL,
    chosen: Collection[int] = (),
) -> Totals:
    """Return the sums of these lines. Optional lines are added up apart and are not in the total, but for
    those of stored lines whose places are ``chosen``: an add-on costs what stands beside it, shares of the
    parts cost do not grow with it.
    """
    lines = list(lines)
    shared = parts_cost(lines)
    taken, optional = _split(lines, chosen)
    sums = [(line.kind, *_amount_and_cost(line, shared, currency)) for line in taken]
    by_kind: dict[str, Decimal] = {}
    for kind, amount, _ in sums:
        by_kind[kind] = by_kind.get(kind, ZERO) + amount
    subtotal = rounded(sum(by_kind.values(), ZERO), currency)
    direct_cost = rounded(sum((cost for *_, cost in sums), ZERO), currency)
    by_rate = taxes(by_kind, tax, currency)
    tax_amount = rounded(sum((each.tax for each in by_rate), ZERO), currency)
    total = subtotal + tax_amount
    return Totals(
        subtotal=subtotal,
        taxable=rounded(sum((each.base for each in by_rate), ZERO), currency),
        tax=tax_amount,
        total=total,
        deposit=rounded(max(total, ZERO) * deposit_fraction, currency),
        parts_cost=rounded(_cost_of_parts(taken), currency),
        direct_cost=direct_cost,
        margin_fraction=None
        if any(is_unpriced(line) for line in taken)
        else margin_fraction(direct_cost, subtotal),
        by_kind=by_kind,
        by_rate=by_rate,
        optional=sum((_amount_and_cost(line, shared, currency)[0] for line in optional), ZERO),
    )


def taxes(by_kind: Mapping[str, Decimal], tax: TaxRule, currency: str = USUAL) -> tuple[RateSum, ...]:
    """Return base and tax of each rate, lowest rate first; the tax is rounded once a rate."""
    discount = by_kind.get(LineKind.DISCOUNT, ZERO)
    sold = sum(by_kind.values(), ZERO) - discount
    at_rate: dict[Decimal, Decimal] = {}
    for kind, amount in by_kind.items():
        if rate := tax.rate_of(kind):
            at_rate[rate] = at_rate.get(rate, ZERO) + amount
    found = []
    for rate, amount in sorted(at_rate.items()):
        base = amount
        if tax.discount_lowers_base and sold > ZERO:
            base = rounded(amount + discount * amount / sold, currency)
        found.append(RateSum(rate, base, rounded(base * rate, currency)))
    return tuple(found)


def is_share(kind: str, unit: str) -> bool:
    """Return whether a line is a share of the parts cost instead of a count of pieces."""
    return kind == LineKind.CONSUMABLES and unit == SHARE_OF_PARTS


def _split(lines: Iterable[PricedLine], chosen: Collection[int]) -> tuple[list[PricedLine], list[PricedLine]]:
    taken: list[PricedLine] = []
    optional: list[PricedLine] = []
    for line in lines:
        is_out = line.is_optional and getattr(line, "position", None) not in chosen
        (optional if is_out else taken).append(line)
    return taken, optional


def _cost_of_parts(lines: Iterable[PricedLine]) -> Decimal:
    return sum((line.quantity * line.unit_cost for line in lines if line.kind == LineKind.PART), ZERO)


def _amount_and_cost(line: PricedLine, cost_of_parts: Decimal, currency: str) -> tuple[Decimal, Decimal]:
    """Return what a line comes to and what it costs the shop; a share is sold at what it costs."""
    if is_share(line.kind, line.unit):
        amount = rounded(line.quantity * cost_of_parts, currency)
        return amount, amount
    cost = ZERO if line.kind == LineKind.DISCOUNT else line.quantity * line.unit_cost
    return line_amount(line.kind, line.quantity, line.unit_price, currency), cost
