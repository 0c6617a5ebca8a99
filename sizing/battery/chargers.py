"""Everything that charges the bank, controllers and other sources alike, as the rules see it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.array.strings import wired_strings
from sizing.cable.currents import alternator_a
from sizing.core.inputs import ChargeSourceInput, Chemistry, SourceKind, SystemInput

SOLAR: Final = "solar"  # the name interlocks use for all charge controllers together


@dataclass(frozen=True, slots=True)
class Charger:
    """Anything that charges the bank, a controller or a source, as the rules see it."""

    id: str
    key: str
    name: str
    output_a: float
    absorb_v: float | None
    float_v: float | None
    equalise_on: bool
    low_t_stop_c: float | None
    excluded_with: tuple[str, ...]
    temp_comp_mv_per_c: float | None = None
    kind: SourceKind | None = None


def chargers(system: SystemInput) -> tuple[Charger, ...]:
    """Return every charger of the bank: controllers with strings on them first, then the other sources.

    A source that feeds another one (a generator on an inverter-charger) charges through it and counts once.
    """
    controllers = (
        Charger(
            id=SOLAR,
            key=f"controller:{unit.id}",
            name=unit.name,
            output_a=unit.rated_output_a,
            absorb_v=unit.absorb_v,
            float_v=None,
            equalise_on=False,
            low_t_stop_c=unit.low_t_stop_c,
            excluded_with=(),
            temp_comp_mv_per_c=unit.temp_comp_mv_per_c,
        )
        for unit in system.controllers
        if wired_strings(system, unit)
    )
    others = (
        Charger(
            id=source.id,
            key=f"source:{source.id}",
            name=source.name,
            output_a=charging_a(system, source),
            absorb_v=source.absorb_v,
            float_v=source.float_v,
            equalise_on=source.equalise_on,
            low_t_stop_c=source.low_t_stop_c,
            excluded_with=source.excluded_with,
            temp_comp_mv_per_c=source.temp_comp_mv_per_c,
            kind=source.kind,
        )
        for source in system.sources
        if not charges_through(system, source)
    )
    return (*controllers, *others)


def limited_a(source: ChargeSourceInput) -> float:
    """Return what a source may put out [A]: its rating or the limit set on it."""
    return source.output_a if source.limited_to_a is None else min(source.output_a, source.limited_to_a)


def charges_through(system: SystemInput, source: ChargeSourceInput) -> bool:
    """Return whether a source only feeds another one that itself charges the bank."""
    return any(other.id == source.through and not other.through for other in system.sources)


def charging_a(system: SystemInput, source: ChargeSourceInput) -> float:
    """Return what a source may put into the bank [A].

    A relay limits nothing: lithium takes all the alternator gives, lead what its own resistance lets it.
    """
    is_free = source.kind is SourceKind.RELAY and source.limited_to_a is None
    if is_free and system.bank is not None and system.bank.chemistry is Chemistry.LFP:
        return max(source.output_a, alternator_a(system, source) or 0.0)
    return limited_a(source)
