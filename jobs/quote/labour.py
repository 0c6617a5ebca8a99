"""Labor hours: what each task takes, which tasks a design asks for, how many days that makes.

Hours are common practice, kept as data; a task's hours grow with what it scales with.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path
from typing import Final

from jobs.models import (
    BatterySheet,
    ChargerSheet,
    Design,
    DesignPanel,
    ExistingItem,
    Obstacle,
    Shop,
    Survey,
    TaskHours,
    Vehicle,
)
from sizing import CircuitKind

#: Wash and layout by array area. Common practice, no source. [h/m²]
LAYOUT_H_PER_M2: Final = Decimal("0.15")
#: What each string adds to the roof wiring. Common practice, no source. [h]
WIRING_H_PER_STRING: Final = Decimal("0.2")
#: Inverters above this come with a sub-panel and transfer. Common practice, no source. [W]
SMALL_INVERTER_W: Final = 2000.0
#: Hours of a day that end up in the work, by place; starting values of ours, no source. [h]
PRODUCTIVE_H: Final = {"shop": Decimal("6.5"), "driveway": Decimal("5.5"), "campsite": Decimal("5.0")}
#: Two people do the work of 1.7, not of 2. A starting value of ours, no source. [-]
PAIR_FACTOR: Final = Decimal("1.7")
_TENTH: Final = Decimal("0.1")
_GONE: Final = frozenset({ExistingItem.Fate.REMOVE, ExistingItem.Fate.REPLACE})
_LEAD: Final = frozenset(
    {BatterySheet.Chemistry.AGM, BatterySheet.Chemistry.GEL, BatterySheet.Chemistry.FLOODED}
)


@dataclass(frozen=True, slots=True)
class LabourCode:
    """One task: hours when all goes well, as planned, and at the worst; None where nothing can be planned."""

    code: str
    task: str
    low_h: Decimal
    plan_h: Decimal | None
    high_h: Decimal
    scales_with: str
    is_pair: bool
    is_roof: bool
    needs_licence: bool


@dataclass(frozen=True, slots=True)
class Hours:
    """Plan hours of one task on one job."""

    code: LabourCode
    plan_h: Decimal


type Codes = Mapping[str, LabourCode]


@cache
def labour_codes() -> dict[str, LabourCode]:
    """Return the tasks every shop starts with by code, L01 to L27."""
    rows = json.loads((Path(__file__).parent.parent / "data" / "labour_codes.json").read_text())["rows"]
    return {row["code"]: LabourCode(**{**row, **_decimals(row)}) for row in rows}


def codes_of(shop: Shop) -> dict[str, LabourCode]:
    """Return a shop's tasks by code: those it starts with, as it says them, and its own."""
    codes = {**labour_codes()}
    for row in TaskHours.objects.of_shop(shop):
        codes.pop(row.code, None)
        if row.is_active:
            codes[row.code] = LabourCode(**{name: getattr(row, name) for name in LabourCode.__slots__})
    return dict(sorted(codes.items()))


def plan_hours(design: Design) -> list[Hours]:
    """Return the tasks this design asks for, with plan hours, in the order of the codes."""
    codes = codes_of(design.job.shop)
    wanted = _roof_hours(codes, design) | _below_hours(codes, design) | _always(codes)
    return [
        Hours(codes[code], hours.quantize(_TENTH, rounding=ROUND_HALF_UP))
        for code, hours in sorted(wanted.items())
        if hours > 0 and code in codes
    ]


def working_days(hours: Decimal, *, people: int = 1, place: str = "shop") -> int:
    """Return whole days by F26: hours, less what a second person saves, over a day's productive hours."""
    if hours <= 0:
        return 0
    shared = hours / PAIR_FACTOR if people > 1 else hours
    return math.ceil(shared / PRODUCTIVE_H[place])


def hours_by_difficulty(code: LabourCode, difficulty: int) -> Decimal:
    """Return the hours of a wire pull by the difficulty of its way: 1 low, 2 plan, 3 half-way up, 4 high."""
    plan = code.plan_h or code.low_h
    return {1: code.low_h, 2: plan, 3: (plan + code.high_h) / 2, 4: code.high_h}[min(max(difficulty, 1), 4)]


def _decimals(row: dict[str, str | None]) -> dict[str, Decimal | None]:
    return {
        name: None if row[name] is None else Decimal(str(row[name])) for name in ("low_h", "plan_h", "high_h")
    }


def _plan(codes: Codes, code: str) -> Decimal:
    """Return the plan hours of a task; none where the shop does not do it."""
    found = codes.get(code)
    return (found.plan_h if found else None) or Decimal(0)


def _always(codes: Codes) -> dict[str, Decimal]:
    return {code: _plan(codes, code) for code in ("L01", "L23", "L24", "L25")}


def _roof_hours(codes: Codes, design: Design) -> dict[str, Decimal]:
    """Return what happens on the roof and on the way down."""
    survey: Survey = design.job.survey
    old_panels = _count(survey.existing_items.all(), ExistingItem.Kind.PANEL)
    wanted = {"L02": _plan(codes, "L02") * old_panels}
    panels = list(design.panels.all())
    if not panels:
        return wanted
    flexible = sum(1 for panel in panels if panel.part.panel_sheet.is_flexible)
    rigid = len(panels) - flexible
    controllers = len(design.controllers.all())
    wanted["L03"] = _layout_hours(codes, panels)
    wanted["L05"] = _plan(codes, "L05") * rigid
    wanted["L07"] = _plan(codes, "L07") * flexible
    wanted["L08"] = (
        _plan(codes, "L08") if rigid and design.job.vehicle.kind == Vehicle.Kind.CLASS_B else Decimal(0)
    )
    wanted["L09"] = _plan(codes, "L09") + WIRING_H_PER_STRING * len(design.strings.all())
    wanted["L10"] = _pull_hours(codes, "L10", survey, CircuitKind.HOME_RUN) * max(controllers, 1)
    wanted["L11"] = _plan(codes, "L11") * controllers
    return wanted


def _layout_hours(codes: Codes, panels: Iterable[DesignPanel]) -> Decimal:
    """Return wash and layout: the plan hours, more on a big array, never past the high end."""
    code = codes.get("L03")
    if code is None:
        return Decimal(0)
    area_m2 = sum(panel.part.panel_sheet.length_m * panel.part.panel_sheet.width_m for panel in panels)
    return min(code.high_h, max(_plan(codes, "L03"), LAYOUT_H_PER_M2 * Decimal(str(area_m2))))


def _below_hours(codes: Codes, design: Design) -> dict[str, Decimal]:
    """Return what happens at the bank, the inverter and the other chargers."""
    survey: Survey = design.job.survey
    wanted: dict[str, Decimal] = {}
    wanted |= _bank_hours(codes, design)
    wanted |= _inverter_hours(codes, design)
    wanted |= _charger_hours(codes, design, survey)
    kinds = {circuit.kind for circuit in design.circuits.all()}
    if CircuitKind.BATTERY_HEATER in kinds:
        wanted["L22"] = _plan(codes, "L22")
    has_cooler = any(
        item.kind in {Obstacle.Kind.AIR_CONDITIONER, Obstacle.Kind.AIR_CONDITIONER_LOW}
        for item in survey.obstacles.all()
    )
    if design.option == Design.Option.HARBOUR and has_cooler:
        wanted["L20"] = _plan(codes, "L20")
    return wanted


def _bank_hours(codes: Codes, design: Design) -> dict[str, Decimal]:
    """Return the bank: lead for lead is a swap; anything else is built new, with fuse, switch, monitor."""
    bank = getattr(design, "bank", None)
    if bank is None or not bank.is_new:
        return {}
    had_bank = _count(design.job.survey.existing_items.all(), ExistingItem.Kind.BATTERY) > 0
    if bank.part.battery_sheet.chemistry in _LEAD and had_bank:
        return {"L12": _plan(codes, "L12")}
    return {code: _plan(codes, code) for code in ("L13", "L14", "L21")}


def _inverter_hours(codes: Codes, design: Design) -> dict[str, Decimal]:
    inverter = getattr(design, "inverter", None)
    if inverter is None or not inverter.is_new:
        return {}
    sheet = inverter.part.inverter_sheet
    code = "L16" if sheet.is_charger or sheet.power_w > SMALL_INVERTER_W else "L15"
    return {code: _plan(codes, code)}


def _charger_hours(codes: Codes, design: Design, survey: Survey) -> dict[str, Decimal]:
    """Return converter and DC-DC work; a towed vehicle's DC-DC also needs the truck side."""
    wanted: dict[str, Decimal] = {}
    fates = _GONE | {ExistingItem.Fate.DISABLE}
    if any(
        item.kind == ExistingItem.Kind.CONVERTER and item.fate in fates
        for item in survey.existing_items.all()
    ):
        wanted["L17"] = _plan(codes, "L17")
    kinds = {source.part.charger_sheet.kind for source in design.sources.all() if source.part}
    if ChargerSheet.Kind.DC_DC in kinds:
        wanted["L18"] = _pull_hours(codes, "L18", survey, CircuitKind.START_BATTERY_TO_DC_DC)
        if design.job.vehicle.is_towed:
            wanted["L19"] = _plan(codes, "L19")
    return wanted


def _pull_hours(codes: Codes, code: str, survey: Survey, circuit: str) -> Decimal:
    """Return a wire pull by the hardest leg of its way; a way nobody has looked at counts as plan."""
    legs = [leg.difficulty for leg in survey.wire_legs.all() if leg.circuit == circuit]
    found = codes.get(code)
    return hours_by_difficulty(found, max(legs, default=2)) if found else Decimal(0)


def _count(items: Iterable[ExistingItem], kind: str) -> int:
    return sum(item.quantity for item in items if item.kind == kind and item.fate in _GONE)
