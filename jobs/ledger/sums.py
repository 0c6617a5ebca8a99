"""Sums of invoices: a total with what of it is taxed at each rate, its parts, and what is left of it.

Pure. A part of a total is shared among rates and the untaxed rest so that the shares add up to it; what was
billed before is taken off rate by rate, so that all invoices of a job together hold what was agreed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Self

from common.currency import rounded
from jobs.quote.money import RateSum

ZERO: Final = Decimal(0)


@dataclass(frozen=True, slots=True)
class Bill:
    """What is asked for, tax included; ``rates`` say what of it is taxed, lowest rate first."""

    total: Decimal = ZERO
    rates: tuple[RateSum, ...] = ()

    @property
    def tax(self) -> Decimal:
        """Return the tax in the total."""
        return sum((each.tax for each in self.rates), ZERO)

    @property
    def untaxed(self) -> Decimal:
        """Return what of the total is neither taxed nor tax."""
        return self.total - sum((each.base + each.tax for each in self.rates), ZERO)

    def __add__(self, other: Bill) -> Bill:
        """Return both together, rate by rate; rates at which nothing is left go."""
        found: dict[Decimal, tuple[Decimal, Decimal]] = {}
        for each in (*self.rates, *other.rates):
            base, tax = found.get(each.rate, (ZERO, ZERO))
            found[each.rate] = (base + each.base, tax + each.tax)
        rates = tuple(RateSum(rate, *sums) for rate, sums in sorted(found.items()) if any(sums))
        return Bill(self.total + other.total, rates)

    def __neg__(self) -> Bill:
        """Return the same to be given back."""
        return Bill(-self.total, tuple(RateSum(each.rate, -each.base, -each.tax) for each in self.rates))

    def __sub__(self, other: Bill) -> Bill:
        """Return what is left after the other."""
        return self + -other

    @classmethod
    def sum(cls, bills: Iterable[Self]) -> Bill:
        """Return all of them together."""
        found = Bill()
        for bill in bills:
            found += bill
        return found

    @classmethod
    def taxed(cls, amount: Decimal, rate: Decimal, currency: str) -> Bill:
        """Return an amount with the tax that comes on top of it."""
        if not rate:
            return Bill(amount)
        tax = rounded(amount * rate, currency)
        return Bill(amount + tax, (RateSum(rate, amount, tax),))


def part_of(whole: Bill, amount: Decimal, currency: str) -> Bill:
    """Return an amount, tax included, that holds of each rate the share that the whole holds."""
    if whole.total <= ZERO:
        return Bill(amount)
    rates, so_far, given = [], ZERO, ZERO
    for each in whole.rates:
        so_far += each.base + each.tax
        upto = rounded(amount * so_far / whole.total, currency)
        gross, given = upto - given, upto
        base = rounded(gross / (1 + each.rate), currency)
        rates.append(RateSum(each.rate, base, gross - base))
    return Bill(amount, tuple(each for each in rates if each.base or each.tax))


def as_texts(bill: Bill) -> list[dict[str, str]]:
    """Return base and tax of each rate as they are stored."""
    return [
        {"rate": f"{each.rate:f}", "base": f"{each.base:f}", "tax": f"{each.tax:f}"} for each in bill.rates
    ]


def bill_from(total: Decimal, texts: Iterable[dict[str, str]]) -> Bill:
    """Return a stored total with its rates."""
    return Bill(
        total,
        tuple(RateSum(Decimal(one["rate"]), Decimal(one["base"]), Decimal(one["tax"])) for one in texts),
    )
