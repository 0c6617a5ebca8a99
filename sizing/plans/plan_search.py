"""Every way to group panels into strings on controllers; refuses strings that cannot work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from sizing.array.module_voltage import cold_voltages, vmp_at_v, voc_at_v
from sizing.array.pwm import pwm_refusal
from sizing.array.string_checks import MISMATCH
from sizing.array.strings import absorb_v, coldest_c, hot_cell_c
from sizing.core.customary import show_both
from sizing.core.inputs import ControllerInput, ControllerKind, PanelSpec, StringInput, SystemInput
from sizing.core.judge import show, show_percent
from sizing.plans.plan_types import RefusedString

MOST_GROUPINGS: Final = 500  # groupings kept before the search stops and says so
MOST_STEPS: Final = 6_000  # steps of the search before it stops and says so
FEW: Final = 6  # ways kept per start when not all can be tried
MOST_STRING_KINDS: Final = 4000  # different strings considered for one controller

Counts = tuple[int, ...]  # how many panels of each kind


@dataclass(frozen=True, slots=True)
class Kind:
    """Panels that can stand for one another: same model, same shade zone; ids in order along the roof."""

    panel: PanelSpec
    zone: str
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grouping:
    """Strings, as counts by kind, for each controller."""

    strings: tuple[tuple[Counts, ...], ...]


@dataclass(frozen=True, slots=True)
class Search:
    """All groupings found, the strings refused on the way, and whether the search came to its end."""

    kinds: tuple[Kind, ...]
    groupings: tuple[Grouping, ...]
    refused: tuple[RefusedString, ...]
    is_complete: bool


def search(system: SystemInput) -> Search:
    """Return every grouping that uses all panels, strings of one controller alike in voltage."""
    kinds = panel_kinds(system)
    total: Counts = tuple(len(kind.ids) for kind in kinds)
    menus = [_menu(system, unit, kinds, total) for unit in system.controllers]
    refused = tuple(each for unit in system.controllers for each in _refusals(system, unit, kinds))
    offers = [menu for menu, _ in menus]
    last, names = _by_first_kind(offers[-1]), _like_names(system.controllers)
    found, is_whole = _collect(names, _deal(offers, last, total, _Budget(MOST_STEPS), MOST_STEPS))
    if not is_whole:  # rather a few of each kind than very many of the first kind
        found, _ = _collect(names, _deal(offers, last, total, _Budget(MOST_STEPS), FEW))
    return Search(kinds, found, refused, is_whole and all(whole for _, whole in menus))


def panel_kinds(system: SystemInput) -> tuple[Kind, ...]:
    """Return the panels sorted into kinds, neighbors along the roof next to one another."""
    groups: dict[tuple[PanelSpec, str], list[str]] = {}
    for placed in sorted(system.panels, key=lambda each: (each.x_m, each.y_m, each.id)):
        groups.setdefault((placed.panel, placed.zone), []).append(placed.id)
    return tuple(Kind(panel, zone, tuple(ids)) for (panel, zone), ids in groups.items())


def named_strings(
    system: SystemInput, kinds: tuple[Kind, ...], grouping: Grouping
) -> tuple[StringInput, ...]:
    """Return a grouping as strings of named panels, taking neighbors together."""
    left = [list(kind.ids) for kind in kinds]
    found: list[StringInput] = []
    for unit, strings in zip(system.controllers, grouping.strings, strict=True):
        for counts in strings:
            names = [left[index].pop(0) for index, count in enumerate(counts) for _ in range(count)]
            found.append(StringInput(f"S{len(found) + 1}", unit.id, tuple(names)))
    return tuple(found)


def refusal(system: SystemInput, unit: ControllerInput, panels: tuple[PanelSpec, ...]) -> str | None:
    """Return why these panels in series cannot work on a controller, or ``None``."""
    currents = [panel.imp_a for panel in panels]
    spread = 1.0 - min(currents) / max(currents)
    if spread > MISMATCH:
        return f"working currents differ by {show_percent(spread)}, more than 5%"
    cold = _cold_refusal(system, unit, panels)
    if cold is not None:
        return cold
    if unit.kind is ControllerKind.PWM:
        return pwm_refusal(system, unit, panels)
    return _hot_refusal(system, unit, panels)


def _cold_refusal(system: SystemInput, unit: ControllerInput, panels: tuple[PanelSpec, ...]) -> str | None:
    tmin_c = coldest_c(system)
    if tmin_c is None:
        return None
    volts = [cold_voltages(panel, tmin_c) for panel in panels]
    if not all(volts):
        return None
    total_v = sum(found[0].voc_v for found in volts)
    if total_v <= unit.pv_voltage_limit_v:
        return None
    return (
        f"{show(total_v, 'V', 1)} at {show_both(tmin_c, '°C', 2)}, above the controller's"
        f" {show(unit.pv_voltage_limit_v, 'V')}"
    )


def _hot_refusal(system: SystemInput, unit: ControllerInput, panels: tuple[PanelSpec, ...]) -> str | None:
    battery_v, cell_c = absorb_v(system, unit), hot_cell_c(system)
    voc = [voc_at_v(panel, cell_c) for panel in panels]
    vmp = [vmp_at_v(panel, cell_c) for panel in panels]
    if battery_v is None or None in voc or None in vmp:
        return None
    voc_v, vmp_v = sum(v for v in voc if v is not None), sum(v for v in vmp if v is not None)
    if voc_v < battery_v + unit.start_margin_v:
        need_v = battery_v + unit.start_margin_v
        return f"only {show(voc_v, 'V', 1)} hot, {show(need_v, 'V', 1)} are needed to start charging"
    if vmp_v < battery_v + unit.run_margin_v:
        need_v = battery_v + unit.run_margin_v
        return f"only {show(vmp_v, 'V', 1)} hot, {show(need_v, 'V', 1)} are needed to keep running"
    return None


@dataclass(frozen=True, slots=True)
class _Offer:
    """A string that works on a controller: its counts and its working volts at 25 °C."""

    counts: Counts
    vmp_v: float


def _menu(
    system: SystemInput, unit: ControllerInput, kinds: tuple[Kind, ...], total: Counts
) -> tuple[tuple[_Offer, ...], bool]:
    """Return the strings that work on a controller, and whether all were looked at."""
    found: list[_Offer] = []
    for number, counts in enumerate(_vectors(total, _longest(system, unit, kinds))):
        if number >= MOST_STRING_KINDS:
            return tuple(found), False
        panels = tuple(kind.panel for kind, count in zip(kinds, counts, strict=True) for _ in range(count))
        if refusal(system, unit, panels) is None:
            found.append(_Offer(counts, sum(panel.vmp_v for panel in panels)))
    return tuple(found), True


def _longest(system: SystemInput, unit: ControllerInput, kinds: tuple[Kind, ...]) -> int:
    """Return a series count no string on this controller can exceed."""
    tmin_c, lowest_v = coldest_c(system), unit.pv_voltage_limit_v
    for kind in kinds:
        volts = cold_voltages(kind.panel, tmin_c) if tmin_c is not None else ()
        each_v = volts[0].voc_v if volts else kind.panel.voc_v
        lowest_v = min(lowest_v, max(each_v, 0.1))
    return int(unit.pv_voltage_limit_v / lowest_v + 1e-9)


def _vectors(total: Counts, longest: int) -> Iterator[Counts]:
    """Yield all counts by kind with 1 to ``longest`` panels, longest first."""
    for length in range(min(longest, sum(total)), 0, -1):
        yield from _splits(total, length)


def _splits(total: Counts, length: int) -> Iterator[Counts]:
    if not total:
        if length == 0:
            yield ()
        return
    for first in range(min(total[0], length), -1, -1):
        for rest in _splits(total[1:], length - first):
            yield (first, *rest)


class _StepsSpent(Exception):
    """The search has taken all the steps it may."""


class _Budget:
    """How many more steps the search may take."""

    def __init__(self, left: int) -> None:
        self.left = left

    def spend(self) -> None:
        """Use a step; raise _StepsSpent when there is none left."""
        self.left -= 1
        if self.left < 0:
            raise _StepsSpent


def _collect(
    names: tuple[str, ...], dealt: Iterator[tuple[tuple[Counts, ...], ...]]
) -> tuple[tuple[Grouping, ...], bool]:
    """Return the different groupings of a deal, and whether it came to its end."""
    found: dict[tuple[object, ...], Grouping] = {}
    try:
        for strings in dealt:
            found.setdefault(_signature(names, strings), Grouping(strings))
            if len(found) >= MOST_GROUPINGS:
                return tuple(found.values()), False
    except _StepsSpent:
        return tuple(found.values()), False
    return tuple(found.values()), True


def _deal(
    menus: list[tuple[_Offer, ...]],
    last: dict[int, tuple[_Offer, ...]],
    left: Counts,
    budget: _Budget,
    most_each: int,
) -> Iterator[tuple[tuple[Counts, ...], ...]]:
    """Yield the strings of every controller such that all panels are used, so many per start at most."""
    if len(menus) == 1:
        for strings in islice(_cover(last, left, 0, (), budget), most_each):
            yield (tuple(offer.counts for offer in strings),)
        return
    for strings, rest in _fill(menus[0], left, 0, (), budget):
        for others in islice(_deal(menus[1:], last, rest, budget, most_each), most_each):
            yield (tuple(offer.counts for offer in strings), *others)


def _fill(
    menu: tuple[_Offer, ...], left: Counts, start: int, chosen: tuple[_Offer, ...], budget: _Budget
) -> Iterator[tuple[tuple[_Offer, ...], Counts]]:
    """Yield sets of like strings for one controller, the empty set too, with the panels left over."""
    budget.spend()
    yield chosen, left
    for index in range(start, len(menu)):
        rest = _less(left, menu[index].counts)
        if rest is not None and _alike(chosen, menu[index]):
            yield from _fill(menu, rest, index, (*chosen, menu[index]), budget)


def _cover(
    menu: dict[int, tuple[_Offer, ...]], left: Counts, start: int, chosen: tuple[_Offer, ...], budget: _Budget
) -> Iterator[tuple[_Offer, ...]]:
    """Yield sets of like strings that use exactly the panels left, each taking of the first kind left."""
    budget.spend()
    if not any(left):
        yield chosen
        return
    kind = next(index for index, count in enumerate(left) if count)
    fitting = menu.get(kind, ())
    for index in range(start, len(fitting)):
        offer = fitting[index]
        rest = _less(left, offer.counts)
        if rest is not None and _alike(chosen, offer):
            yield from _cover(menu, rest, index if rest[kind] else 0, (*chosen, offer), budget)


def _by_first_kind(menu: tuple[_Offer, ...]) -> dict[int, tuple[_Offer, ...]]:
    """Return the strings sorted by the first kind they take of."""
    found: dict[int, list[_Offer]] = {}
    for offer in menu:
        found.setdefault(next(i for i, count in enumerate(offer.counts) if count), []).append(offer)
    return {kind: tuple(offers) for kind, offers in found.items()}


def _less(left: Counts, use: Counts) -> Counts | None:
    """Return what is left after a string, or ``None`` when there are not enough panels."""
    rest = []
    for have, taken in zip(left, use, strict=True):
        if taken > have:
            return None
        rest.append(have - taken)
    return tuple(rest)


def _alike(chosen: tuple[_Offer, ...], offer: _Offer) -> bool:
    volts = [offer.vmp_v, *(each.vmp_v for each in chosen)]
    return 1.0 - min(volts) / max(volts) <= MISMATCH


def _like_names(controllers: tuple[ControllerInput, ...]) -> tuple[str, ...]:
    """Return a name for each controller that is the same for controllers that may be exchanged."""
    return tuple(repr(replace(unit, id="", name="")) for unit in controllers)


def _signature(names: tuple[str, ...], strings: tuple[tuple[Counts, ...], ...]) -> tuple[object, ...]:
    """Return what makes a grouping itself: like controllers may be exchanged."""
    return tuple(sorted((name, tuple(sorted(each))) for name, each in zip(names, strings, strict=True)))


def _refusals(system: SystemInput, unit: ControllerInput, kinds: tuple[Kind, ...]) -> Iterator[RefusedString]:
    """Yield why equal panels in series do not work, the first too many and every too few."""
    for panel in dict.fromkeys(kind.panel for kind in kinds):
        count = sum(len(kind.ids) for kind in kinds if kind.panel == panel)
        for ns in range(1, count + 1):
            reason = refusal(system, unit, (panel,) * ns)
            if reason is None:
                continue
            yield RefusedString(unit.id, f"{ns} × {panel.name} in series", reason)
            if _cold_refusal(system, unit, (panel,) * ns) is not None:
                break
