"""Knows what to load for a job: the parts of the accepted design and quote, and what goes with them.

Gear is counted from the design that is built; cable, fittings and the rest are what the quote and the change
orders sold, where that is more. Spares and small parts are common practice, no source, and say so by a note.
Lengths are in meters and whole feet or half meters of the shop. No price and no cost is read.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

import sizing
from checklists.models import Checklist
from common import units as trade
from jobs.engine.stored import design_in_full, result_of
from jobs.models import ChangeOrder, Design, LineKind, Part, Quote
from jobs.quote.lines import LineDraft, Rates
from jobs.quote.materials import M_PER_FT, part_lines
from jobs.schedule.needs import is_chosen
from sizing import CircuitKind

GROUPS: Final = (
    ("gear", "Panels and equipment"),
    ("roof", "Roof: mounts, screws, sealant, gland"),
    ("cable", "Cable"),
    ("protection", "Fuses, breakers, switches"),
    ("small", "Lugs, labels and the rest"),
)
_GEAR: Final = frozenset(
    {Part.Kind.PANEL, Part.Kind.CONTROLLER, Part.Kind.BATTERY, Part.Kind.INVERTER, Part.Kind.CHARGER}
)
_BY_KIND: Final = {
    Part.Kind.MOUNT: "roof", Part.Kind.SEALANT: "roof", Part.Kind.CABLE: "cable",
    Part.Kind.PROTECTION: "protection",
} | dict.fromkeys(_GEAR, "gear")  # fmt: skip
#: How lines without a part of the catalog begin, and where they belong.
_BY_WORDS: Final = (
    ("Cable ", "cable"), ("Fuse", "protection"), ("String fuse", "protection"), ("Mounting", "roof"),
    ("Entry gland", "roof"),
)  # fmt: skip
_FEET: Final = frozenset({"ft", "foot", "feet"})
_METERS: Final = frozenset({"m", "meter", "metre", "meters", "metres"})
#: Spare fuses carried of each rating. Common practice, no source. [-]
SPARE_FUSES: Final = 2.0
#: Screws carried beyond those planned. Common practice, no source. [-]
SPARE_SCREWS: Final = 1.1
#: Feet and gland boxes one tube of sealant does, one tube more is carried. Common practice, no source. [-]
FEET_PER_TUBE: Final = 8
#: Ring lugs on the studs of a run, both conductors. Common practice, no source. [-]
_LUGS: Final = {
    CircuitKind.CONTROLLER_TO_BUS: 2, CircuitKind.BATTERY_TO_MAIN_FUSE: 4, CircuitKind.BATTERY_LINKS: 4,
    CircuitKind.BUS_TO_INVERTER: 4, CircuitKind.SHUNT_TO_BATTERY: 2, CircuitKind.START_BATTERY_TO_DC_DC: 2,
    CircuitKind.DC_DC_TO_BUS: 2, CircuitKind.CHARGER_TO_BUS: 2,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PullLine:
    """One thing to load: ``quantity`` in ``unit``, lengths in meters."""

    key: str
    group: str
    text: str
    quantity: float
    unit: str = "each"
    note: str = ""


def pull_list(checklist: Checklist) -> list[PullLine]:
    """Return what to load for the design the install follows, group by group."""
    design, result = design_in_full(checklist.design_id), result_of(checklist.run)
    units = checklist.job.shop.units
    sold = list(_sold(checklist))
    lines = {line.key: line for line in _of_design(design, result, units)}
    for draft in sold:
        own = _line(draft, units)
        known = lines.get(own.key)
        if known is None or (own.group != "gear" and own.quantity > known.quantity):
            lines[own.key] = own
    for line in _beside(checklist, result, lines.values()):
        lines.setdefault(line.key, line)
    order = [name for name, _ in GROUPS]
    return sorted(lines.values(), key=lambda line: order.index(line.group))


def _of_design(design: Design, result: sizing.SystemResult, units: str) -> Iterator[PullLine]:
    offered = Part.objects.of_shop(design.job.shop).filter(is_active=True)
    catalogue = list(offered.select_related("cable_sheet", "protection_sheet"))
    string_fuses = sum(row.np for row in result.controllers if row.needs_string_fuse)
    rates = Rates.of_shop(design.job.shop)
    for draft in part_lines(design, result.circuits, catalogue, rates, string_fuses):
        yield _line(draft, units, {part.pk: part for part in catalogue})


def _sold(checklist: Checklist) -> Iterator[LineDraft]:
    """Yield the part lines of the accepted quote and change orders, those of one part added up."""
    quote = Quote.objects.filter(job=checklist.job_id, state=Quote.State.ACCEPTED).first()
    orders = ChangeOrder.objects.filter(job=checklist.job_id, state=ChangeOrder.State.ACCEPTED)
    sold = [line for line in quote.lines.all() if is_chosen(quote, line)] if quote else []
    rows = [*sold, *(line for order in orders for line in order.lines.all() if not line.is_optional)]
    found: dict[tuple[Any, ...], LineDraft] = {}
    for row in rows:
        if row.kind not in {LineKind.PART, LineKind.CUSTOMER_PART} or row.quantity <= 0:
            continue
        key = (row.part_id, row.text if row.part_id is None else "", row.unit)
        before = found[key].quantity if key in found else Decimal(0)
        found[key] = LineDraft(
            row.kind, row.text, quantity=before + row.quantity, unit=row.unit, part_id=row.part_id
        )
    yield from found.values()


def _line(draft: LineDraft, units: str, parts: dict[int, Part] | None = None) -> PullLine:
    """Return a line of the quote as one to load."""
    part = (parts or {}).get(draft.part_id or 0) or Part.objects.filter(pk=draft.part_id or 0).first()
    key = f"part:{part.pk}" if part else f"text:{hashlib.sha256(draft.text.encode()).hexdigest()[:16]}"
    group = _BY_KIND.get(Part.Kind(part.kind)) if part else None
    group = group or next((name for words, name in _BY_WORDS if draft.text.startswith(words)), "small")
    note = "the customer's own" if draft.kind == LineKind.CUSTOMER_PART else ""
    unit = draft.unit.strip().lower()
    if unit in _FEET | _METERS:
        length_m = float(draft.quantity) * (M_PER_FT if unit in _FEET else 1.0)
        return PullLine(key, group, draft.text, _whole_m(length_m, units), "m", note)
    return PullLine(key, group, draft.text, float(draft.quantity), draft.unit, note)


def _whole_m(length_m: float, units: str) -> float:
    """Return a length in meters that is a whole foot, or half a meter, of the shop, rounded up."""
    step_m = M_PER_FT if units == trade.IMPERIAL else 0.5
    return round(math.ceil(length_m / step_m - 1e-6) * step_m, 6)


def _beside(
    checklist: Checklist, result: sizing.SystemResult, lines: Iterable[PullLine]
) -> Iterator[PullLine]:
    """Yield what no quote names piece by piece: screws, sealant, holders, spares, lugs, labels."""
    has = [line.text.lower() for line in lines]
    yield from _roof_small(checklist.facts, result, has_sealant=any("sealant" in text for text in has))
    fuses = Counter(row.fuse_a for row in result.circuits if row.fuse_a is not None)
    if fuses:
        yield PullLine(
            "holders", "protection", "Fuse holders and blocks", float(sum(fuses.values())),
            note="one a fuse; breakers need none",
        )  # fmt: skip
    for rating_a in sorted(fuses):
        yield PullLine(
            f"spare:{rating_a:g}",
            "protection",
            f"Spare fuse {rating_a:g} A",
            SPARE_FUSES,
            note="if it is a fuse",
        )
    lugs: Counter[str] = Counter()
    for row in result.circuits:
        count = _LUGS.get(CircuitKind(row.id.rstrip("ABCDEFGH"))) if row.size else None
        lugs[row.size_words or str(row.size)] += count or 0
    for size, number in sorted(lugs.items()):
        if number:
            key = hashlib.sha256(size.encode()).hexdigest()[:16]
            words = f"Ring lugs, {size}, with heat shrink"
            yield PullLine(f"lugs:{key}", "small", words, float(number), note="count the studs first")
    tags = sum(1 for row in result.circuits if row.label_text)
    if tags:
        yield PullLine("labels", "small", "Printed labels", float(2 * tags), note="one at each end")


def _roof_small(
    facts: dict[str, Any], result: sizing.SystemResult, *, has_sealant: bool
) -> Iterator[PullLine]:
    found = result.penetrations
    screws = found.foot_fasteners + found.gland_screws
    if screws:
        number = float(math.ceil(screws * SPARE_SCREWS - 1e-9))
        yield PullLine("screws", "roof", "Screws for feet and gland box", number, note="a tenth to spare")
    sealed = found.feet + (1 if facts.get("gland_screws") else 0)
    if sealed and not has_sealant:
        tubes = float(math.ceil(sealed / FEET_PER_TUBE) + 1)
        yield PullLine("sealant", "roof", "Sealant that suits the roof", tubes, "tube", "one to spare")
