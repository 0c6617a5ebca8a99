"""A quote line while it is being typed, and how its cost and price come about."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Final

from common.currency import USUAL
from jobs.models import LineKind, Part, Quote, Shop
from jobs.models.quote import Line
from jobs.quote import money
from jobs.shop.settings import KM_PER_MILE

MILE: Final = "mile"
KILOMETER: Final = "km"
HOUR: Final = "h"
_STORED: Final = (
    "kind", "code", "text", "quantity", "unit", "unit_cost", "markup", "is_margin", "unit_price",
    "is_pair", "is_optional", "part_id", "is_banded", "free_reason",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rates:
    """What the shop charges and pays: an hour of one or two, a mile or kilometer, its markup on parts."""

    labour_rate: Decimal
    pair_rate: Decimal
    labour_cost: Decimal
    mile_cost: Decimal
    markup: Decimal
    way_unit: str = MILE  # what ``mile_cost`` is for
    currency: str = USUAL

    @classmethod
    def of_shop(cls, shop: Shop) -> Rates:
        """Return the shop's rates of today."""
        return cls._of(shop, shop.labour_cost, shop.mile_cost)

    @classmethod
    def of_quote(cls, quote: Quote) -> Rates:
        """Return the shop's rates of today with what hours and ways cost when the quote was begun."""
        return cls._of(quote.job.shop, quote.labour_cost, quote.mile_cost)

    @classmethod
    def _of(cls, shop: Shop, labour_cost: Decimal, mile_cost: Decimal) -> Rates:
        unit = way_unit(shop)
        return cls(shop.labour_rate, shop.pair_rate, labour_cost, mile_cost, shop.markup, unit, shop.currency)

    def way_cost(self, unit: str) -> Decimal:
        """Return what a mile or a kilometer costs, whichever the rate is for."""
        if unit == self.way_unit:
            return self.mile_cost
        factor = KM_PER_MILE if unit == MILE else 1 / KM_PER_MILE
        return (self.mile_cost * factor).quantize(Decimal("0.0001"), ROUND_HALF_UP)


def way_unit(shop: Shop) -> str:
    """Return what the shop counts its ways in."""
    return KILOMETER if shop.units == Shop.Units.METRIC else MILE


@dataclass(frozen=True, slots=True)
class LineDraft:
    """One line as proposed or typed; ``part_id`` ties it to the catalog."""

    kind: str
    text: str
    code: str = ""
    quantity: Decimal = Decimal(1)
    unit: str = "each"
    unit_cost: Decimal = Decimal(0)
    markup: Decimal | None = None
    is_margin: bool = False
    unit_price: Decimal = Decimal(0)
    is_pair: bool = False
    is_optional: bool = False
    part_id: int | None = None
    is_banded: bool = False
    free_reason: str = ""
    currency: str = USUAL

    @property
    def amount(self) -> Decimal:
        """Return what the line comes to, once priced."""
        return money.line_amount(self.kind, self.quantity, self.unit_price, self.currency)

    @property
    def about(self) -> tuple[str, str]:
        """Return what the line is about: its kind with its task, part or words."""
        return self.kind, self.code or (f"part {self.part_id}" if self.part_id else self.text)

    @property
    def margin_fraction(self) -> Decimal | None:
        """Return the margin the line leaves; None where nothing is charged."""
        return money.margin_fraction(self.unit_cost, self.unit_price)


def draft_of(line: Line) -> LineDraft:
    """Return a stored line as a draft, to be copied or priced again."""
    return LineDraft(**{name: getattr(line, name) for name in _STORED})


def priced(drafts: Iterable[LineDraft], rates: Rates) -> list[LineDraft]:
    """Return the lines with cost and price filled in; shares of the parts cost come last, as they need it."""
    lines = [_priced(draft, rates) for draft in drafts]
    cost_of_parts = money.parts_cost(lines)
    return [
        replace(line, unit_cost=cost_of_parts, unit_price=cost_of_parts)
        if money.is_share(line.kind, line.unit)
        else line
        for line in lines
    ]


def labour(code: str, text: str, hours: Decimal, rates: Rates, *, is_pair: bool = False) -> LineDraft:
    """Return a labor line at the shop's rate for one person or two."""
    rate = rates.pair_rate if is_pair else rates.labour_rate
    return LineDraft(LineKind.LABOUR, text, code, hours, HOUR, unit_price=rate, is_pair=is_pair)


def has_foreign_part(drafts: Iterable[LineDraft], shop: Shop) -> bool:
    """Return whether a line is tied to a part that is not in the shop's catalog."""
    named = {draft.part_id for draft in drafts if draft.part_id is not None}
    return Part.objects.of_shop(shop).filter(pk__in=named).count() != len(named)


def stored[L: Line](drafts: Sequence[LineDraft], model: type[L], **owner: object) -> list[L]:
    """Return rows ready to be saved, in order, with amounts rounded."""
    return [
        model(
            **{name: getattr(draft, name) for name in _STORED}, amount=draft.amount, position=place, **owner
        )
        for place, draft in enumerate(drafts, start=1)
    ]


def _priced(draft: LineDraft, rates: Rates) -> LineDraft:
    line = _at_its_price(replace(draft, currency=rates.currency), rates)
    return replace(line, unit_price=Decimal(0)) if line.free_reason else line


def _at_its_price(draft: LineDraft, rates: Rates) -> LineDraft:
    if draft.kind == LineKind.LABOUR:
        people = 2 if draft.is_pair else 1
        return replace(draft, unit_cost=rates.labour_cost * people, markup=None)
    if draft.kind == LineKind.PART:
        return replace(draft, unit_price=_part_price(draft, rates))
    if draft.kind == LineKind.TRAVEL and draft.unit in {MILE, KILOMETER}:
        return replace(draft, unit_cost=rates.way_cost(draft.unit))
    if draft.kind == LineKind.CUSTOMER_PART:
        return replace(draft, unit_cost=Decimal(0), unit_price=Decimal(0), markup=None)
    return draft


def _part_price(draft: LineDraft, rates: Rates) -> Decimal:
    """Return the price by bands, by markup, or by margin where the person said so: no two are the same."""
    if draft.is_banded:
        return money.banded_price(draft.unit_cost)
    share = rates.markup if draft.markup is None else draft.markup
    if draft.is_margin:
        return money.price_for_margin(draft.unit_cost, share)
    return money.part_price(draft.unit_cost, share)


def proposed_json(lines: Iterable[LineDraft], options: dict[str, Any]) -> dict[str, Any]:
    """Return lines as proposed, and what was asked for them, as they are stored with a quote."""
    rows = [{name: _plain(value) for name, value in asdict(line).items()} for line in lines]
    return {"options": {name: _plain(value) for name, value in options.items()}, "lines": rows}


def line_of_json(row: dict[str, Any]) -> LineDraft:
    """Return a line as it was stored; what a later release no longer knows is passed over."""
    known = {field.name for field in fields(LineDraft)}
    values = {name: value for name, value in row.items() if name in known}
    for name in ("quantity", "unit_cost", "markup", "unit_price"):
        if values.get(name) is not None:
            values[name] = Decimal(values[name])
    return LineDraft(**values)


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else value
