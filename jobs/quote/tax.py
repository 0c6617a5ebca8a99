"""Sales tax by day and kind: which rate a new quote takes, and what beside parts and labor it is taken of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any, Final

from jobs.models import LineKind, Shop, TaxRate
from jobs.quote.money import TAXED_WITH_PARTS, TaxRule

#: Kinds of lines that a tick of a rate stands for, beside parts and labor.
ALSO: Final = {
    "on_travel": (LineKind.TRAVEL, LineKind.CALL_OUT),
    "on_subcontract": (LineKind.SUBCONTRACT, LineKind.ALLOWANCE),
    "on_disposal": (LineKind.DISPOSAL,),
}


def rate_of_day(shop: Shop, day: date) -> TaxRate | None:
    """Return the rate that counts on a day: the one that began last; None before the first."""
    return TaxRate.objects.of_shop(shop).filter(from_date__lte=day).order_by("-from_date").first()


def tax_of_day(shop: Shop, day: date) -> dict[str, Any]:
    """Return the tax columns of a quote begun on a day; without a rate the shop's settings count."""
    rate = rate_of_day(shop, day)
    if rate is None:
        return {
            "tax_fraction": shop.tax_fraction,
            "tax_on_parts": shop.tax_on_parts,
            "tax_on_labour": shop.tax_on_labour,
        }
    also = [kind.value for name, kinds in ALSO.items() if getattr(rate, name) for kind in kinds]
    return {
        "tax_fraction": rate.fraction,
        "tax_on_parts": rate.on_parts,
        "tax_on_labour": rate.on_labour,
        "tax_also": also,
    }


def also_taxed(rule: TaxRule, kinds: Iterable[str]) -> TaxRule:
    """Return a rule that takes its rate of further kinds of lines."""
    taxed = {*kinds}
    if not taxed:
        return rule
    taxed |= {*TAXED_WITH_PARTS} if rule.on_parts else set()
    taxed |= {str(LineKind.LABOUR)} if rule.on_labour else set()
    return replace(rule, by_kind={str(kind): rule.fraction for kind in taxed})
