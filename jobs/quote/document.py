"""What the customer is shown: the quote word for word, with no cost or margin anywhere in it.

The document is plain data. It is built from records while the quote is a draft and frozen when it is sent;
page and paper print this, never the records behind it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from babel.dates import format_date

import sizing
from common import units as trade
from common.told import in_english
from jobs.engine.spoken import spoken
from jobs.engine.stored import result_of
from jobs.models import LineKind, Quote, QuoteLine, ScopeItem, Shop, Vehicle
from jobs.models.quote import Line
from jobs.quote import labour, money
from jobs.quote.compare import option_name
from jobs.quote.revisions import changes_since
from jobs.quote.words import design_month, gap_words, month_name
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.survey.read import guess_label, in_order

#: Part prices are held this long after sending. Common practice, no source. [days]
PARTS_PRICE_DAYS: Final = 14
CAUTIONS: Final = (
    "The calculations in this quote are aids for a qualified installer. Local code, the equipment makers'"
    " manuals and"
    " licensed practice take priority over this paper.",
    "Panels make voltage whenever light falls on them; they cannot be switched off.",
    "Harvest figures are averages for the month and place named beside them, not a promise for a given day.",
    "We drill into the roof. Every hole is counted and sealed under and over; the seals must be inspected"
    " within 90 days, and then every spring and fall.",
    "Do not charge lithium batteries below freezing unless their own heater allows it.",
)
CHANGE_TERM: Final = (
    "Work not listed here is done only after you have signed a change order with its price. What is left of"
    " an allowance is credited back."
)
#: A kind as the heading of its lines.
GROUP_LABELS: Final[dict[str, str]] = {
    LineKind.PART: "Parts",
    LineKind.ALLOWANCE: "Allowances",
    LineKind.SUBCONTRACT: "Subcontracts",
    LineKind.DISCOUNT: "Discounts",
    LineKind.CUSTOMER_PART: "Customer's own parts",
}
#: What the page says at its top, before anything is praised.
_SAID_FIRST: Final = frozenset({"bank/autonomy", "energy/harvest"})
_NO_UNIT_PRICE: Final = frozenset({LineKind.CONSUMABLES, LineKind.DISCOUNT, LineKind.CUSTOMER_PART})


@in_english
def quote_document(
    *,
    quote: Quote,
    lines: Iterable[QuoteLine],
    scope: Iterable[ScopeItem],
    sent_on: date,
    valid_until: date,
    beside: Sequence[Quote] = (),
) -> dict[str, Any]:
    """Return the quote as the customer reads it; the design comes with everything its plan asks for.

    ``beside`` are the other options of its offer, which may close what this one leaves open.
    """
    shop = quote.job.shop
    shown = [line for line in lines if _is_shown(line)]
    result = result_of(quote.run) if quote.run else None
    document: dict[str, Any] = spoken(
        _document(quote, result, shown, scope, sent_on, valid_until), shop.units
    )
    gap = _gap(quote, result, beside)
    if gap:
        document["findings"] = [each for each in document["findings"] if not _is_said_first(each)]
    return document | {"gap": gap, "changes": changes_since(quote, shown)}


@in_english
def _document(
    quote: Quote,
    result: sizing.SystemResult | None,
    shown: list[QuoteLine],
    scope: Iterable[ScopeItem],
    sent_on: date,
    valid_until: date,
) -> dict[str, Any]:
    shop, vehicle = quote.job.shop, quote.job.vehicle
    return {
        "form": "quote 1",
        "shop": shown_shop(shop),
        "customer": vehicle.customer.name,
        "vehicle": shown_vehicle(vehicle),
        "job": quote.job.number,
        "number": quote.number,
        "title": quote.title or quote.job.title,
        "option": {"name": quote.option_name, "purpose": quote.option_purpose},
        "summary": quote.summary,
        "asked_for": quote.job.asked_for,
        "design": str(quote.design),
        "rule_set": result.rule_set_title if result else quote.design.get_rule_set_display(),
        "sent_on": day(sent_on),
        "valid_until": day(valid_until),
        "figures": _figures(result, quote, shop.units) if result else [],
        "months": _months(result) if result else [],
        "findings": findings(result) if result else [],
        "guesses": guessed_facts(result) if result else [],
        "open_facts": open_facts(result) if result else [],
        "groups": _groups(shown),
        "lines": [shown_line(line) for line in shown if not line.is_optional],
        "options": [shown_line(line) | {"position": line.position} for line in shown if line.is_optional],
        "scope": [_scope(item) for item in scope],
        "totals": _totals(quote),
        "terms": _terms(quote, shown, sent_on, valid_until),
        "cautions": list(CAUTIONS),
        "plan_svg": plan_svg(roof_state(quote.design), shop_units=shop.units),
    }


def _is_said_first(finding: dict[str, Any]) -> bool:
    return finding["key"] in _SAID_FIRST and finding["verdict"] != sizing.Verdict.BLOCK


def _gap(quote: Quote, result: sizing.SystemResult | None, beside: Sequence[Quote]) -> str:
    """Return what falls short of what the customer asked for, said first and outright."""
    if result is None:
        return ""
    others = [(option_name(each), result_of(each.run)) for each in beside if each.run]
    return gap_words(quote.job.survey, result, others)


def content_sha256(document: dict[str, Any]) -> str:
    """Return the hash of a document's content, the same for the same words."""
    text = json.dumps(document, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def day(value: date) -> str:
    """Return a day in words, as papers print it."""
    return format_date(value, "MMM d, y", locale="en_US")


def findings(result: sizing.SystemResult) -> list[dict[str, Any]]:
    """Return what the customer can decide about, and every block, worst first; a cause is said once.

    What only the desk can settle (gauges, devices, limits to look up) stays on the design's page and on the
    job sheet. A block is never kept from the customer.
    """
    open_checks = [check for check in result.checks if check.verdict is not sizing.Verdict.PASS]
    open_checks.sort(key=lambda check: (-check.verdict.severity, sizing.concern_of(check).danger.rank))
    told: dict[tuple[str, str], sizing.Check] = {}
    for check in open_checks:
        concern = sizing.concern_of(check)
        if check.blocks or concern.audience is sizing.Audience.CUSTOMER:
            told.setdefault((concern.cause, check.subject), check)
    return [
        {
            "key": check.key,
            "verdict": str(check.verdict),
            "title": check.title[:1].upper() + check.title[1:],
            "sentence": _sentence(check),
            "is_plain": True,  # an older document also held what only the desk settles, folded away
        }
        for check in told.values()
    ]


def guessed_facts(result: sizing.SystemResult) -> list[str]:
    """Return in trade words the facts that are still guesses; of cables only how many."""
    guesses = {guess for check in result.checks for guess in check.guesses}
    cables = sum(guess.startswith("circuit:") for guess in guesses)
    others = {guess_label(guess) for guess in guesses if not guess.startswith("circuit:")}
    return sorted(others, key=in_order) + (
        [f"{cables} cable length{'' if cables == 1 else 's'}"] if cables else []
    )


def open_facts(result: sizing.SystemResult) -> list[str]:
    """Return what is still to be found out before work begins, each fact once."""
    unknown = [check for check in result.checks if check.verdict is sizing.Verdict.NOT_ENOUGH_DATA]
    return list(
        dict.fromkeys(check.missing or check.title[:1].lower() + check.title[1:] for check in unknown)
    )


def _sentence(check: sizing.Check) -> str:
    """Return the check's own words; clipping is told to the customer, not to the estimator."""
    if check.key.endswith("/clip") and check.value:
        percent = trade.number_text(check.value * 100, 1)
        return (
            f"At its best {percent}% of the array's power is more than the controller can use and is"
            " lost. This is not dangerous."
        )
    return check.sentence


def shown_shop(shop: Shop) -> dict[str, str]:
    names = (
        "name",
        "address",
        "phone",
        "email",
        "licence_text",
        "insurance_text",
        "currency",
        "units",
        "paper",
    )
    return {name: str(getattr(shop, name)) for name in names}


def shown_vehicle(vehicle: Vehicle) -> dict[str, str]:
    return {
        "title": str(vehicle),
        "kind": vehicle.get_kind_display(),
        "vin_tail": vehicle.vin_tail,
        "plate": vehicle.plate,
    }


def _is_shown(line: QuoteLine) -> bool:
    """Return whether a line is printed. Of those that come to nothing only the customer's own part and what
    we give free are.
    """
    return line.amount != 0 or line.kind == LineKind.CUSTOMER_PART or bool(line.free_reason)


def shown_line(line: Line) -> dict[str, str]:
    """Return a line without what it costs; a share of the parts cost shows its amount only."""
    hides_rate = line.kind in _NO_UNIT_PRICE
    return {
        "kind": line.get_kind_display(),
        "code": line.code,
        "text": line.text,
        "quantity": "" if hides_rate else line.quantity_text,
        "unit": "" if hides_rate else line.unit + (" (two people)" if line.is_pair else ""),
        "unit_price": "" if hides_rate else str(line.unit_price),
        "amount": str(line.amount),
        "note": _note(line),
    }


def _note(line: Line) -> str:
    """Return what is said under a line that costs the customer nothing."""
    if line.kind == LineKind.CUSTOMER_PART:
        return "No warranty from us on parts you bring."
    return f"No charge: {line.free_reason}" if line.free_reason else ""


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _groups(lines: Iterable[QuoteLine]) -> list[dict[str, str]]:
    """Return the sums by kind, in the order of the kinds."""
    sums: dict[str, Decimal] = {}
    for line in lines:
        if not line.is_optional:
            sums[line.kind] = sums.get(line.kind, Decimal(0)) + line.amount
    return [
        {"kind": GROUP_LABELS.get(kind, str(kind.label)), "amount": str(sums[kind])}
        for kind in LineKind
        if sums.get(kind)
    ]


def _scope(item: ScopeItem) -> dict[str, str]:
    return {"text": item.text, "answer": item.get_answer_display(), "note": item.note}


def _totals(quote: Quote) -> dict[str, str]:
    return {
        "subtotal": str(quote.subtotal),
        "tax": str(quote.tax),
        "tax_text": _tax_text(quote),
        "total": str(quote.total),
        "deposit": str(quote.deposit),
        "balance": str(money.cent(quote.total - quote.deposit, quote.job.shop.currency)),
    }


def _tax_text(quote: Quote) -> str:
    """Return what is taxed and at what rate, in words."""
    if quote.tax_exempt_text:
        return f"Tax exempt, certificate {quote.tax_exempt_text}"
    named = [
        words
        for words, is_taxed in (("parts", quote.tax_on_parts), ("labour", quote.tax_on_labour))
        if is_taxed
    ]
    if not named or not quote.tax_fraction:
        return "Sales tax"
    return f"Sales tax {_plain(quote.tax_fraction * 100)}% on {' and '.join(named)}"


def _terms(quote: Quote, lines: Iterable[QuoteLine], sent_on: date, valid_until: date) -> list[str]:
    deposit = f"{_plain(quote.deposit_fraction * 100)}%"
    parts_until = min(sent_on + timedelta(days=PARTS_PRICE_DAYS), valid_until)
    labour_lines = [line for line in lines if line.kind == LineKind.LABOUR and not line.is_optional]
    hours = sum((line.quantity for line in labour_lines), Decimal(0))
    days = labour.working_days(hours)
    return [
        f"This quote can be accepted until {day(valid_until)}. Part prices are good until"
        f" {day(parts_until)}.",
        f"A deposit of {deposit} is due on acceptance, before parts are ordered; parts made to order may have"
        " to be paid in full. The balance is due before you take the vehicle.",
        f"Planned work: {_plain(hours)} hours, about {days} working days for one person."
        " Sealant must cure before the vehicle is driven; weather may move the date.",
        CHANGE_TERM,
    ]


def _figures(result: sizing.SystemResult, quote: Quote, units: str) -> list[dict[str, str]]:
    """Return the key numbers, each with its unit; a harvest never without month and place."""
    array_w = sum(row.pmp_w for row in result.controllers)
    inverter = getattr(quote.design, "inverter", None)
    holes = result.penetrations
    found = [
        ("Array", _show(array_w, "W", units), "rated power of all panels"),
        (
            "Daily use",
            _show(result.energy.e_day_wh, "Wh", units),
            "from your list of appliances, losses included",
        ),
        *_harvest_figure(result, quote, units),
        (
            "Usable battery",
            _show(result.bank.usable_wh, "Wh", units),
            "what you can use without harming the battery",
        ),
        (
            "Days without sun",
            _show(result.bank.autonomy_days, "d", units, 1),
            "from a full battery, at your daily use",
        ),
        ("Inverter", _show(inverter.part.inverter_sheet.power_w, "W", units) if inverter else "none", ""),
        (
            "Holes in the roof",
            f"{holes.penetrations + holes.cable_holes}",
            f"{holes.penetrations} screws, {holes.cable_holes} for cable; all sealed under and over",
        ),
        ("Weight added", _show(result.weight.net_added_kg, "kg", units), "new parts, less what we remove"),
        *_height_figure(result, units),
    ]
    return [{"label": label, "text": text, "note": note} for label, text, note in found]


def _harvest_figure(result: sizing.SystemResult, quote: Quote, units: str) -> list[tuple[str, str, str]]:
    row = design_month(result, quote.job.survey.design_month)
    if row is None:
        return [("Daily harvest", "not known yet", "no place and month in the survey")]
    when = f"average day in {month_name(row.month)}, {row.leg}"
    return [("Daily harvest", _show(row.harvest_wh, "Wh", units), when)]


def _height_figure(result: sizing.SystemResult, units: str) -> list[tuple[str, str, str]]:
    height = next((check.value for check in result.checks if check.key == "vehicle/height"), None)
    return [("Overall height after", _show(height, "m", units), "highest point")] if height else []


def _months(result: sizing.SystemResult) -> list[dict[str, str]]:
    return [
        {
            "month": month_name(row.month),
            "place": row.leg,
            "harvest": _show(row.harvest_wh, "Wh", trade.METRIC),
            "balance": _signed(row.balance_wh),
        }
        for row in result.harvest
    ]


def _show(value: float | None, unit: str, units: str, digits: int | None = None) -> str:
    return "not known yet" if value is None else trade.show(value, unit, units, digits=digits)


def _signed(value: float | None) -> str:
    if value is None:
        return "not known yet"
    return f"{'+' if value >= 0 else '−'}{trade.number_text(abs(value), 0)} Wh"
