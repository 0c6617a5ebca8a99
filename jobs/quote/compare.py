"""Options side by side: what each gives in numbers, and what one has more than the other, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import sizing
from common import units as trade
from common.currency import money_text
from jobs.engine.spoken import spoken
from jobs.engine.stored import result_of
from jobs.models import LineKind, Quote, Shop
from jobs.quote.words import days_text, design_month, month_name

#: What counts for an option: the accepted quote before one that is out, that before a draft.
_LIVE = (Quote.State.ACCEPTED, Quote.State.SENT, Quote.State.DRAFT)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Options side by side: a heading and a row of texts for each, and the differences in sentences."""

    quotes: list[Quote]
    results: list[sizing.SystemResult]
    rows: list[tuple[str, list[str]]]
    sentences: list[str]


def comparison(quotes: Sequence[Quote], *, shop: Shop) -> Comparison | None:
    """Return the quote of each option that counts most, side by side; None when there are fewer than two."""
    best: dict[str, Quote] = {}
    live = [quote for quote in quotes if quote.state in _LIVE and quote.run is not None]  # newest first
    for quote in sorted(live, key=lambda quote: _LIVE.index(quote.state)):
        best.setdefault(quote.design.option, quote)
    if len(best) < 2:
        return None
    return side_by_side(list(best.values()), shop)


def side_by_side(quotes: Sequence[Quote], shop: Shop) -> Comparison:
    """Return these quotes by price, lowest first, with what each gives; every one has been sized."""
    chosen = sorted(quotes, key=lambda quote: quote.total)
    results = [result_of(quote.run) for quote in chosen if quote.run]
    rows = [
        ("Days without sun", [_days(result, shop) for result in results]),
        (
            "Daily harvest",
            [_harvest(quote, result, shop) for quote, result in zip(chosen, results, strict=True)],
        ),
        ("Daily use", [_show(result.energy.e_day_wh, "Wh", shop) for result in results]),
        ("Usable battery", [_show(result.bank.usable_wh, "Wh", shop) for result in results]),
        ("Weight added", [_show(result.weight.net_added_kg, "kg", shop) for result in results]),
        ("Overall height", [_show(_height_m(result), "m", shop) for result in results]),
        ("Holes in the roof", [str(_holes(result)) for result in results]),
        ("Hours of work", [trade.number_text(float(_hours(quote)), 1) for quote in chosen]),
    ]
    return Comparison(chosen, results, rows, _differences(chosen, results, shop))


def option_name(quote: Quote) -> str:
    """Return the name the option goes by: the shop's own, else its plan's."""
    return quote.option_name or str(quote.design.get_option_display())


def offer_document(quotes: Sequence[Quote], recommended: Quote | None, shop: Shop) -> dict[str, Any]:
    """Return the comparison as the customer reads it: plain data, to be frozen when the offer is sent."""
    table = side_by_side(quotes, shop)
    best = getattr(recommended, "pk", None)
    pairs = zip(table.quotes, table.results, strict=True)
    options = [_option(quote, result, is_best=quote.pk == best) for quote, result in pairs]
    document: dict[str, Any] = spoken(
        {"form": "offer 1", "options": options, "rows": table.rows, "sentences": table.sentences}, shop.units
    )
    return document


def _option(quote: Quote, result: sizing.SystemResult, *, is_best: bool) -> dict[str, Any]:
    return {
        "number": quote.number,
        "name": option_name(quote),
        "purpose": quote.option_purpose,
        "is_recommended": is_best,
        "total": str(quote.total),
        "deposit": str(quote.deposit),
        "days": days_text(result),
        "use_wh": round(result.energy.e_day_wh),
        "months": [
            {"month": month_name(row.month)[:3], "place": row.leg, "harvest_wh": round(row.harvest_wh)}
            for row in result.harvest
            if row.harvest_wh is not None
        ],
        "content_sha256": quote.content_sha256,
    }


def _differences(chosen: list[Quote], results: list[sizing.SystemResult], shop: Shop) -> list[str]:
    """Return what each step up brings, in plain sentences."""
    sentences = []
    for place in range(1, len(chosen)):
        less, more = chosen[place - 1], chosen[place]
        before, after = results[place - 1], results[place]
        gains = [
            _more(after.bank.usable_wh, before.bank.usable_wh, "Wh", "usable in the battery", shop),
            _more(_array_w(after), _array_w(before), "W", "of panels", shop),
            _more(after.weight.net_added_kg, before.weight.net_added_kg, "kg", "to carry", shop),
            _holes_more(_holes(after) - _holes(before)),
        ]
        named = ", ".join(text for text in gains if text) or "the same panels and battery"
        days = _more(after.bank.autonomy_days, before.bank.autonomy_days, "d", "without sun", shop)
        price = money_text(more.total - less.total, shop.currency)
        sentences.append(
            f"{option_name(more)} compared with {option_name(less)}:"
            f" {named}{'; ' + days if days else ''}, for {price} more."
        )
    return sentences


def _more(after: float | None, before: float | None, unit: str, words: str, shop: Shop) -> str:
    if after is None or before is None or abs(after - before) < 0.05:
        return ""
    side = "more" if after > before else "less"
    return f"{trade.show(abs(after - before), unit, shop.units, trim=True)} {side} {words}"


def _holes_more(count: int) -> str:
    if not count:
        return ""
    side = "more" if count > 0 else "fewer"
    return f"{abs(count)} {side} hole{'' if abs(count) == 1 else 's'} in the roof"


def _show(value: float | None, unit: str, shop: Shop) -> str:
    return "not known yet" if value is None else trade.show(value, unit, shop.units, trim=True)


def _days(result: sizing.SystemResult, shop: Shop) -> str:
    days = days_text(result)
    return f"{days} d" if days else "not known yet"


def _harvest(quote: Quote, result: sizing.SystemResult, shop: Shop) -> str:
    row = design_month(result, quote.job.survey.design_month)
    if row is None:
        return "not known yet"
    return f"{_show(row.harvest_wh, 'Wh', shop)}, {month_name(row.month)}, {row.leg}"


def _array_w(result: sizing.SystemResult) -> float:
    return sum(row.pmp_w for row in result.controllers)


def _height_m(result: sizing.SystemResult) -> float | None:
    return next((check.value for check in result.checks if check.key == "vehicle/height"), None)


def _holes(result: sizing.SystemResult) -> int:
    return result.penetrations.penetrations + result.penetrations.cable_holes


def _hours(quote: Quote) -> Decimal:
    lines = [line for line in quote.lines.all() if line.kind == LineKind.LABOUR and not line.is_optional]
    return sum((line.quantity for line in lines), Decimal(0))
