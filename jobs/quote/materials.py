"""What is bought for a design: its parts, and the cable, fuses and fittings its circuits need.

Cable and fuses are found in the shop's own catalog by their typed gauge and amps; where nobody typed them,
and fittings always, by the words of the part's name. Typed volts and interrupting ratings are not held
against what the engine asks of a device yet. What is not found becomes a line without a cost, so that it is
seen and not forgotten.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from typing import Final

import sizing
from jobs.models import CableSheet, Design, LineKind, Part, ProtectionSheet, Shop, Survey
from jobs.quote.lines import LineDraft, Rates
from sizing import CircuitKind

#: Cut-offs and slack on every cable. Common practice, no source. [-]
CABLE_SLACK: Final = 1.10
M_PER_FT: Final = 0.3048
#: Circuits that carry 120 V or signals: priced with the task, not by the length.
_NOT_BY_METRE: Final = frozenset(
    {CircuitKind.INVERTER_AC_OUT, CircuitKind.SHORE_AC_IN, CircuitKind.SENSE_AND_MONITOR}
)
#: How a cable is named that the catalog does not have; it is counted as the shop measures.
_CABLE: Final = "Cable "
_PV_FAMILIES: Final = frozenset(
    {CableSheet.Family.PV_WIRE, CableSheet.Family.USE_2, CableSheet.Family.SOLAR_EN}
)
_NO_CIRCUIT: Final = frozenset({ProtectionSheet.Family.GPV, ProtectionSheet.Family.SWITCH})
_PV: Final = frozenset({CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN})
Wanted = dict[tuple[Part | None, str], Decimal]


def part_lines(
    design: Design,
    circuits: Iterable[sizing.CircuitRow],
    catalogue: list[Part],
    rates: Rates,
    string_fuses: int,
) -> list[LineDraft]:
    """Return the part lines of a design: gear first, then mounts and fittings, then cable and fuses."""
    wanted: Wanted = {}
    for part, quantity in _gear(design).items():
        wanted[(part, part.name)] = Decimal(quantity)
    _add_fittings(wanted, design, catalogue, string_fuses)
    unit = "m" if design.job.shop.units == Shop.Units.METRIC else "ft"
    _add_cable(wanted, circuits, catalogue, unit)
    _add_fuses(wanted, circuits, catalogue)
    return [_line(part, text, quantity, rates, unit) for (part, text), quantity in wanted.items()]


def _gear(design: Design) -> Counter[Part]:
    """Return the parts the design itself names, counted; what stays on the vehicle is not bought."""
    gear: Counter[Part] = Counter(panel.part for panel in design.panels.all() if panel.existing_id is None)
    gear.update(controller.part for controller in design.controllers.all())
    bank, inverter = getattr(design, "bank", None), getattr(design, "inverter", None)
    if bank is not None and bank.is_new:
        gear[bank.part] += bank.quantity
    if inverter is not None and inverter.is_new:
        gear[inverter.part] += 1
    gear.update(source.part for source in design.sources.all() if source.part)
    return gear


def _add_fittings(wanted: Wanted, design: Design, catalogue: list[Part], string_fuses: int) -> None:
    panels = list(design.panels.all())
    feet = sum(panel.feet for panel in panels)
    bank = getattr(design, "bank", None)
    has_new_bank = bank is not None and bank.is_new
    is_joined = len(design.strings.all()) > len(design.controllers.all())
    has_gland = bool(panels) and design.job.survey.gland_kind == Survey.GlandKind.GLAND_BOX
    for words, quantity, fallback in (
        ("foot", feet, "Mounting foot with screws"),
        ("gland", int(has_gland), "Entry gland box"),
        ("combiner", int(is_joined), "Combiner"),
        ("string fuse", string_fuses, "String fuse and holder"),
        ("switch", int(has_new_bank), "Battery switch"),
        ("busbar", int(has_new_bank), "Busbars with covers"),
        ("shunt", int(has_new_bank), "Battery monitor with shunt"),
    ):
        if quantity:
            _add(wanted, _named(catalogue, words), fallback, Decimal(quantity))


def _add_cable(
    wanted: Wanted, circuits: Iterable[sizing.CircuitRow], catalogue: list[Part], unit: str
) -> None:
    """Add both conductors of every run, with slack, by gauge; ``unit`` counts what no part is named for."""
    for row in circuits:
        if row.size is None or row.run_len_m is None or row.id in _NOT_BY_METRE:
            continue
        part = _cable(catalogue, row.id, _gauge(row))
        _add(wanted, part, f"{_CABLE}{_gauge(row)}", _cable_length(part, row.run_len_m, unit))


def cable_cost(catalogue: list[Part], *, circuit: str, gauge: str, run_len_m: float) -> Decimal | None:
    """Return what both conductors of a run cost the shop in this gauge; None where the catalog has none."""
    part = _cable(catalogue, circuit, gauge)
    return None if part is None else (part.cost * _cable_length(part, run_len_m)).quantize(Decimal("0.01"))


def _cable_length(part: Part | None, run_len_m: float, unit: str = "m") -> Decimal:
    """Return the cable of both conductors with slack, in the unit the part is bought in, to a tenth up."""
    cable_m = 2 * run_len_m * CABLE_SLACK
    is_feet = (unit if part is None else part.unit) in {"ft", "foot", "feet"}
    length = cable_m / M_PER_FT if is_feet else cable_m
    return Decimal(math.ceil(length * 10 - 1e-9)) / 10  # 30.800000000000004 is 30.8


def _add_fuses(wanted: Wanted, circuits: Iterable[sizing.CircuitRow], catalogue: list[Part]) -> None:
    for row in circuits:
        if row.fuse_a is not None:
            part = _fuse(catalogue, row.fuse_a)
            _add(wanted, part, f"Fuse or breaker {row.fuse_a:g} A", Decimal(1))


def _add(wanted: Wanted, part: Part | None, fallback: str, quantity: Decimal) -> None:
    key = (part, part.name if part else fallback)
    wanted[key] = wanted.get(key, Decimal(0)) + quantity


def _named(catalogue: list[Part], words: str) -> Part | None:
    """Return the first part of this name; cable sold by the foot is no foot."""
    fittings = (part for part in catalogue if part.kind != Part.Kind.CABLE)
    return next((part for part in fittings if words in part.name.lower()), None)


def _gauge(row: sizing.CircuitRow) -> str:
    size = str(row.size)
    return size if re.search(r"[a-zA-Z]", size) else f"{size} AWG"


def _cable(catalogue: list[Part], circuit: str, gauge: str) -> Part | None:
    """Return the cable of this gauge; roof circuits look for PV wire first, the others for anything else."""
    found = [part for part in catalogue if part.kind == Part.Kind.CABLE and _is_gauge(part, gauge)]
    wants_pv = circuit.rstrip("ABCDEFGH") in _PV
    return min(found, key=lambda part: _is_pv(part) != wants_pv, default=None)


def _is_gauge(part: Part, gauge: str) -> bool:
    sheet: CableSheet | None = getattr(part, "cable_sheet", None)
    if sheet is not None and sheet.size:
        return sheet.gauge.lower() == gauge.lower()
    wanted = re.compile(rf"(?<![\w/]){re.escape(gauge)}(?!\w)", re.IGNORECASE)
    return bool(wanted.search(part.name))


def _is_pv(part: Part) -> bool:
    sheet: CableSheet | None = getattr(part, "cable_sheet", None)
    if sheet is not None and sheet.family:
        return sheet.family in _PV_FAMILIES
    return part.name.upper().startswith("PV")


def _fuse(catalogue: list[Part], rating_a: float) -> Part | None:
    devices = (part for part in catalogue if part.kind == Part.Kind.PROTECTION)
    return next((part for part in devices if _is_fuse(part, rating_a)), None)


def _is_fuse(part: Part, rating_a: float) -> bool:
    """Return whether a part protects a circuit at this rating; string fuses and switches do not."""
    sheet: ProtectionSheet | None = getattr(part, "protection_sheet", None)
    if sheet is not None and sheet.rated_a is not None and sheet.family:
        return sheet.rated_a == rating_a and sheet.family not in _NO_CIRCUIT
    name = part.name.lower()
    is_fuse = ("fuse" in name or "breaker" in name) and "string" not in name
    return is_fuse and bool(re.search(rf"(?<![\w.]){rating_a:g} A(?!\w)", part.name))


def _line(part: Part | None, text: str, quantity: Decimal, rates: Rates, cable_unit: str) -> LineDraft:
    return LineDraft(
        kind=LineKind.PART,
        text=text,
        quantity=quantity,
        unit=part.unit if part else cable_unit if text.startswith(_CABLE) else "each",
        unit_cost=part.cost if part else Decimal(0),
        markup=rates.markup,
        part_id=part.pk if part else None,
    )
