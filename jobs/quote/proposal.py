"""What a new quote starts with: lines proposed from a design, and what is in, out or an allowance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

import sizing
from jobs.engine.stored import result_of
from jobs.models import Design, ExistingItem, LineKind, Part, Shop, SizingRun
from jobs.models.quote import SHARE_OF_PARTS
from jobs.quote import labour, money
from jobs.quote.kits import kit_lines
from jobs.quote.lines import HOUR, KILOMETER, LineDraft, Rates, way_unit
from jobs.quote.lines import labour as labour_line
from jobs.quote.materials import part_lines
from jobs.quote.scope import ScopeDraft, gone, scope_list

#: Starting values of ours, no source; every line can be changed before the quote is sent.
ROOF_ALLOWANCE: Final = Decimal("250.00")
MILES_IN_CALL_FEE: Final = Decimal(25)
KILOMETERS_IN_CALL_FEE: Final = Decimal(40)
#: A roof past this age adds a tenth of the roof labor as an allowance. Common practice, no source. [years]
OLD_ROOF_YEARS: Final = 10
OLD_ROOF_FRACTION: Final = Decimal("0.10")


@dataclass(frozen=True, slots=True)
class Trip:
    """The way to the work, each way; in a metric shop in kilometers; none: the vehicle comes to the shop."""

    miles: Decimal = Decimal(0)
    hours_each_way: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a quote starts with."""

    lines: list[LineDraft]
    scope: list[ScopeDraft]


def propose(
    *,
    design: Design,
    shop: Shop,
    run: SizingRun | None,
    trip: Trip,
    survey_fee_paid: Decimal,
    by_band: bool,
) -> Proposal:
    """Return the lines and scope a quote on this design starts with; ``by_band`` marks up by cost band."""
    rates = Rates.of_shop(shop)
    result = result_of(run) if run else None
    hours = labour.plan_hours(design)
    lines = [_labour(task, rates) for task in hours]
    lines += _travel_time(trip, rates, shop)
    parts = _parts(design, result, shop, rates, by_band)
    lines += parts + kit_lines(parts, shop)
    lines.append(_consumables(shop))
    lines += _trip(trip, shop)
    lines += _allowances(design, lines)
    lines += _disposal(design, shop)
    if survey_fee_paid > 0:
        lines.append(
            LineDraft(LineKind.DISCOUNT, "Survey fee already paid, credited", unit_price=survey_fee_paid)
        )
    return Proposal(lines, scope_list({task.code.code for task in hours}, design, shop))


def _labour(task: labour.Hours, rates: Rates) -> LineDraft:
    return labour_line(task.code.code, task.code.task, task.plan_h, rates, is_pair=task.code.is_pair)


def _parts(
    design: Design, result: sizing.SystemResult | None, shop: Shop, rates: Rates, by_band: bool
) -> list[LineDraft]:
    offered = Part.objects.of_shop(shop).filter(is_active=True)
    catalogue = list(offered.select_related("cable_sheet", "protection_sheet"))
    circuits = result.circuits if result else ()
    controllers = result.controllers if result else ()
    string_fuses = sum(row.np for row in controllers if row.needs_string_fuse)
    lines = part_lines(design, circuits, catalogue, rates, string_fuses)
    lines += _for_weak_panels(design, result, rates)
    if not by_band:
        return lines
    return [replace(line, markup=None, is_banded=True) for line in lines]


def _for_weak_panels(design: Design, result: sizing.SystemResult | None, rates: Rates) -> list[LineDraft]:
    """Offer a new panel for each used one that lags far behind its sisters; the customer may say no."""
    weak = {check.key for check in result.checks if check.verdict is sizing.Verdict.CAUTION} if result else ()
    return [
        LineDraft(
            kind=LineKind.PART,
            text=f"{panel.part.name} in place of used panel {panel.number}, which gives less than the others",
            unit=panel.part.unit,
            unit_cost=panel.part.cost,
            markup=rates.markup,
            part_id=panel.part_id,
            is_optional=True,
        )
        for panel in design.panels.all()
        if f"panel:{panel.number}/used" in weak
    ]


def _consumables(shop: Shop) -> LineDraft:
    return LineDraft(
        LineKind.CONSUMABLES,
        "Sealant, tape, cleaner, ties, terminals",
        quantity=shop.consumables_fraction,
        unit=SHARE_OF_PARTS,
    )


def _trip(trip: Trip, shop: Shop) -> list[LineDraft]:
    """Return call-out and way, in the shop's miles or kilometers; the call fee holds the first of them."""
    if trip.miles <= 0:
        return []
    unit = way_unit(shop)
    is_metric = unit == KILOMETER
    most = KILOMETERS_IN_CALL_FEE if is_metric else MILES_IN_CALL_FEE
    first = f"{most} {unit if is_metric else 'miles'}"
    held = min(trip.miles, most)
    beyond = trip.miles - held
    lines = [
        LineDraft(
            LineKind.CALL_OUT,
            f"Call-out, first {first} included",
            unit_price=shop.call_fee,
            unit_cost=money.cent(held * shop.mile_cost, shop.currency),
        )
    ]
    if beyond > 0:
        text = f"Travel beyond {first}"
        lines.append(LineDraft(LineKind.TRAVEL, text, quantity=beyond, unit=unit, unit_price=shop.mile_rate))
    return lines


def _travel_time(trip: Trip, rates: Rates, shop: Shop) -> list[LineDraft]:
    """Return set-up on site, and hours on the road past one each way, at half the rate."""
    if trip.miles <= 0:
        return []
    code = labour.codes_of(shop).get("L27")
    lines = [labour_line(code.code, code.task, code.plan_h or Decimal(0), rates)] if code else []
    beyond = (trip.hours_each_way - 1) * 2
    if beyond > 0:
        half = money.cent(rates.labour_rate / 2, rates.currency)
        text = "Time on the road beyond one hour each way, half rate"
        lines.append(LineDraft(LineKind.LABOUR, text, quantity=beyond, unit=HOUR, unit_price=half))
    return lines


def _allowances(design: Design, lines: list[LineDraft]) -> list[LineDraft]:
    """Return capped sums for what nobody can see yet; what is not used is credited back."""
    if not design.panels.all():
        return []
    found = [
        LineDraft(
            LineKind.ALLOWANCE,
            "Roof allowance: hidden damage under our mounts and cable entry, up to this amount",
            unit_price=ROOF_ALLOWANCE,
        )
    ]
    age = design.job.survey.roof_age_years
    if age is not None and age > OLD_ROOF_YEARS:
        codes = labour.codes_of(design.job.shop)
        on_roof = [line for line in lines if line.code and codes[line.code].is_roof]
        on_roof_sum = sum((line.amount for line in on_roof), Decimal(0))
        extra = money.cent(on_roof_sum * OLD_ROOF_FRACTION, design.job.shop.currency)
        text = f"Roof older than {OLD_ROOF_YEARS} years: slower work, up to this amount"
        found.append(LineDraft(LineKind.ALLOWANCE, text, unit_price=extra))
    return found


def _disposal(design: Design, shop: Shop) -> list[LineDraft]:
    """Return what is hauled away at the shop's rates; batteries without one wait to be priced."""
    batteries, panels = (gone(design, kind) for kind in (ExistingItem.Kind.BATTERY, ExistingItem.Kind.PANEL))
    found = []
    if batteries:
        price = shop.old_battery_price or Decimal(0)
        found.append(_hauled("Old batteries hauled away", batteries, price))
    if panels and shop.old_panel_price:
        found.append(_hauled("Old panels hauled away", panels, shop.old_panel_price))
    return found


def _hauled(text: str, count: int, price: Decimal) -> LineDraft:
    return LineDraft(LineKind.DISPOSAL, text, quantity=Decimal(count), unit_price=price)
