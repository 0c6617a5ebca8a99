"""What the next size up buys: energy kept in a year against copper carried. No money here."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from sizing.cable.conductors import conductor
from sizing.circuits.circuit_choice import candidates
from sizing.circuits.rewiring import COPPER_KG_PER_M3
from sizing.core.checks import Term
from sizing.core.customary import show_both
from sizing.core.inputs import (
    ChargeSourceInput,
    CircuitInput,
    CircuitKind,
    InputOutOfRange,
    SourceKind,
    SystemInput,
)
from sizing.core.judge import show, show_percent
from sizing.core.results import Figure, SystemResult

DAYS_PER_YEAR: Final = 365.0
#: Mean current while energy flows, weighted by energy, over the current the drop is worked at. Losses go
#: with the square of the current, so a circuit loses ``drop × share`` of the energy that passes. [-]
MEAN_SHARE: Final = MappingProxyType(
    {
        "sun": 0.6,  # flat array over a year, common practice
        "inverter": 0.3,  # appliances seldom run at the inverter's rating, common practice
        "charger": 0.9,  # a charger mostly runs at its rating, common practice
        "panel": 0.4,  # DC appliances seldom all run at once, common practice
    }
)


@dataclass(frozen=True, slots=True)
class NextSize:
    """A circuit's size and the one above it."""

    circuit_id: str
    size: str
    next_size: str
    drop_fraction: float
    next_drop_fraction: float
    energy_kwh_per_year: float | None  # what passes; None: not known
    saved_kwh_per_year: float | None
    mean_share: float  # mean current over the current of the drop, weighted by energy
    extra_copper_kg: float
    words: str


def next_size_up(system: SystemInput, result: SystemResult, circuit_id: str) -> NextSize | None:
    """Return what the next size up would save in a year, and what it weighs.

    Parameters
    ----------
    system : SystemInput
        The design. [-]
    result : SystemResult
        Its answer: rows, daily energy and monthly harvest are read from it. [Wh]
    circuit_id : str
        Which circuit. [-]

    Returns
    -------
    NextSize or None
        Energy kept [kWh/year], copper added [kg]; ``None`` when there is no larger size or no drop.

    Raises
    ------
    InputOutOfRange
        If there is no such circuit.

    Notes
    -----
    ``saved = E·share·(drop - drop_next)``; ``m = 2·L·ΔA·8960``. Months without a harvest count as none.

    References
    ----------
    .. [1] Joule's law; shares of mean current are common practice, no source.
    """
    circuit = next((each for each in system.circuits if each.id == circuit_id), None)
    row = next((each for each in result.circuits if each.id == circuit_id), None)
    if circuit is None or row is None:
        raise InputOutOfRange("circuit_id", f'there is no circuit "{circuit_id}"')
    if row.size is None or row.drop_fraction is None or row.run_len_m is None:
        return None
    cable = conductor(row.size, row.cable_standard)
    larger = [each for each in candidates(system.rule_set, circuit) if each.area_mm2 > cable.area_mm2]
    if not larger:
        return None
    ratio = larger[0].resistance_ohm_per_m() / cable.resistance_ohm_per_m()
    after = row.drop_fraction * ratio
    energy_wh, share = _BY_KIND.get(circuit.kind, _nothing)(system, result, circuit)
    saved = None if energy_wh is None else energy_wh * share * (row.drop_fraction - after) / 1000
    extra_m2 = (larger[0].area_mm2 - cable.area_mm2) * 1e-6
    extra_kg = 2 * row.run_len_m * extra_m2 * COPPER_KG_PER_M3 * circuit.parallel_conductors
    kept = "energy that passes is not known" if saved is None else f"keeps {saved:.1f} kWh a year"
    return NextSize(
        circuit_id=circuit_id,
        size=cable.words,
        next_size=larger[0].words,
        drop_fraction=row.drop_fraction,
        next_drop_fraction=after,
        energy_kwh_per_year=None if energy_wh is None else energy_wh / 1000,
        saved_kwh_per_year=saved,
        mean_share=share,
        extra_copper_kg=extra_kg,
        words=f"{larger[0].words} instead of {cable.words}: {kept}, "
        f"{show_both(extra_kg, 'kg', 2)} more copper",
    )


def next_size_figures(system: SystemInput, result: SystemResult) -> tuple[Figure, ...]:
    """Return what the next size up keeps in a year, for each circuit whose energy is known."""
    found = (next_size_up(system, result, circuit.id) for circuit in system.circuits)
    return tuple(_figure(each) for each in found if each is not None and each.saved_kwh_per_year is not None)


def _figure(found: NextSize) -> Figure:
    return Figure(
        key=f"circuit:{found.circuit_id}/next_size",
        title=f"{found.next_size} instead of {found.size}: energy kept in a year",
        value=found.saved_kwh_per_year,
        unit="kWh/year",
        formula="E·share·(drop − drop_next)",
        substituted=f"{show(found.energy_kwh_per_year, 'kWh', 1)} × {show(found.mean_share)} × "
        f"({show_percent(found.drop_fraction)} − {show_percent(found.next_drop_fraction)}) = "
        f"{show(found.saved_kwh_per_year, 'kWh/year')}",
        source="Joule's law; share of mean current is common practice, no source",
        terms=(
            Term("E", "energy that passes in a year", found.energy_kwh_per_year, "kWh"),
            Term("share", "mean current over the current of the drop", found.mean_share),
            Term("Δm", "copper added, both conductors", found.extra_copper_kg, "kg"),
        ),
    )


def harvest_year_wh(result: SystemResult) -> float | None:
    """Return the array's energy in a year [Wh], months by the mean of their legs; ``None`` if not known."""
    by_month: dict[int, list[float]] = {}
    for month in result.harvest:
        if month.harvest_wh is not None:
            by_month.setdefault(month.month, []).append(month.harvest_wh)
    if not by_month:
        return None
    common_year = 2023
    return sum(sum(days) / len(days) * monthrange(common_year, month)[1] for month, days in by_month.items())


type _Energy = tuple[float | None, float]


def _nothing(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    return None, 0.0


def _from_sun(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    """A controller's share of the array, by rated power."""
    year_wh = harvest_year_wh(result)
    total_w = sum(each.pmp_w for each in result.controllers)
    name = circuit.serves.removeprefix("controller:")
    own = [each for each in result.controllers if each.id == name or len(result.controllers) == 1]
    if year_wh is None or not total_w or not own:
        return None, 0.0
    return year_wh * own[0].pmp_w / total_w, MEAN_SHARE["sun"]


def _from_inverter(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    energy = result.energy
    efficiency = 1.0 if system.inverter is None else system.inverter.efficiency_fraction
    return (energy.e_ac_wh / efficiency + energy.e_idle_wh) * DAYS_PER_YEAR, MEAN_SHARE["inverter"]


def _to_panel(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    return result.energy.e_dc_wh * DAYS_PER_YEAR, MEAN_SHARE["panel"]


def _from_engine(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    return _charged(system, circuit, (SourceKind.DC_DC,), lambda found: found.driving_hours_per_day)


def _from_shore(system: SystemInput, result: SystemResult, circuit: CircuitInput) -> _Energy:
    kinds = (SourceKind.CONVERTER, SourceKind.INVERTER_CHARGER, SourceKind.GENERATOR)
    return _charged(system, circuit, kinds, lambda found: found.shore_hours_per_day)


def _charged(
    system: SystemInput,
    circuit: CircuitInput,
    kinds: tuple[SourceKind, ...],
    hours: Callable[[ChargeSourceInput], float],
) -> _Energy:
    fitting = [each for each in system.sources if each.kind in kinds]
    name = circuit.serves.removeprefix("source:")
    year_wh = [
        found.output_a * system.v_nominal_v * hours(found) * DAYS_PER_YEAR
        for found in fitting
        if found.id == name or len(fitting) == 1
    ]
    return (year_wh[0] if year_wh else None), MEAN_SHARE["charger"]


_BY_KIND: Final = MappingProxyType(
    {
        CircuitKind.STRINGS_TO_COMBINER: _from_sun,
        CircuitKind.HOME_RUN: _from_sun,
        CircuitKind.CONTROLLER_TO_BUS: _from_sun,
        CircuitKind.BUS_TO_INVERTER: _from_inverter,
        CircuitKind.BUS_TO_DC_PANEL: _to_panel,
        CircuitKind.START_BATTERY_TO_DC_DC: _from_engine,
        CircuitKind.DC_DC_TO_BUS: _from_engine,
        CircuitKind.CHARGER_TO_BUS: _from_shore,
    }
)
