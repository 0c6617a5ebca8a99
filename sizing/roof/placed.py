"""Where the masses of a job sit: distances behind the front axle or the hitch ball (F22)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from sizing.core.customary import show_both
from sizing.core.inputs import PlacedPanel, SystemInput, WeightInput

#: Masses listed by place and masses added are the same when they differ by less; scales read no finer. [kg]
SAME_MASS_KG: Final = 0.05


class PlacedMass(NamedTuple):
    """A mass the job adds (takes off: negative) and its distance behind the front axle or hitch ball."""

    name: str
    mass_kg: float
    x_m: float


def placed_masses(system: SystemInput, ledger: WeightInput) -> tuple[PlacedMass, ...]:
    """Return every mass whose place is known: the design's own parts, then what is listed by hand."""
    own = (PlacedMass(name, kg, x_m) for name, kg, x_m in own_parts(system, ledger) if x_m is not None)
    return (*own, *(PlacedMass(*point) for point in ledger.mass_points))


def unplaced_words(system: SystemInput, ledger: WeightInput) -> list[str]:
    """Return what has no place yet, in words; none when every mass has one. Part of it is not all of it."""
    placed = placed_masses(system, ledger)
    listed = {mass.name for mass in placed}
    own = [(name, kg) for name, kg, x_m in own_parts(system, ledger) if x_m is None]
    new = _lacking(
        [(name, kg) for name, kg, _ in own_parts(system, ledger)] + list(ledger.added),
        [mass.mass_kg for mass in placed if mass.mass_kg > 0],
        own + [one for one in ledger.added if one[0] not in listed],
        "added goes",
    )
    old = _lacking(
        list(ledger.removed),
        [-mass.mass_kg for mass in placed if mass.mass_kg < 0],
        [one for one in ledger.removed if one[0] not in listed],
        "taken off was",
    )
    return [words for words in (new, old) if words]


def _lacking(
    masses: list[tuple[str, float]], placed_kg: list[float], lacking: list[tuple[str, float]], what: str
) -> str:
    """Return how much of the masses has no place, by name where the names account for all of it."""
    all_kg, there_kg = math.fsum(kg for _, kg in masses), math.fsum(placed_kg)
    gap_kg = all_kg - there_kg
    if abs(gap_kg) <= SAME_MASS_KG:
        return ""
    total, verb = show_both(all_kg, "kg", 1), what.split()[0]
    if gap_kg < 0:
        return f"which is right ({show_both(there_kg, 'kg', 1)} have a place, {total} are {verb})"
    is_all = abs(gap_kg - math.fsum(kg for _, kg in lacking)) <= SAME_MASS_KG
    names = ", ".join(dict.fromkeys(name for name, kg in lacking if kg > 0)) if is_all else ""
    of_them = f" ({names})" if names else ""
    return f"where {show_both(gap_kg, 'kg', 1)} of the {total} {what}{of_them}"


def own_parts(system: SystemInput, ledger: WeightInput) -> Iterator[tuple[str, float, float | None]]:
    """Yield name, mass and place of what the design itself describes."""
    for placed in system.panels:
        yield "panels", placed.panel.mass_kg, _panel_x_m(placed, ledger.rear_edge_x_m)
    if system.bank is not None:
        yield "bank", system.bank.unit_mass_kg * system.bank.quantity, ledger.bank_x_m
    equipment = (*((system.inverter,) if system.inverter else ()), *system.controllers, *system.sources)
    for unit in equipment:
        yield "inverter, chargers and controllers", unit.mass_kg, ledger.equipment_x_m


def _panel_x_m(placed: PlacedPanel, rear_edge_x_m: float | None) -> float | None:
    """Return how far behind the front axle a panel's middle lies [m]; the roof plan counts from the rear."""
    if rear_edge_x_m is None:
        return None
    along = placed.panel.width_m if placed.turned else placed.panel.length_m
    return rear_edge_x_m - (placed.x_m + along / 2)
