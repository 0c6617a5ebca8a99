"""Everything that charges the bank, controllers and other sources alike, as the rules see it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.array.strings import wired_strings
from sizing.core.inputs import ChargeSourceInput, SourceKind, SystemInput

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
    kind: SourceKind | None = None


def chargers(system: SystemInput) -> tuple[Charger, ...]:
    """Return every charger of the bank: controllers with strings on them first, then the other sources."""
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
        )
        for unit in system.controllers
        if wired_strings(system, unit)
    )
    others = (
        Charger(
            id=source.id,
            key=f"source:{source.id}",
            name=source.name,
            output_a=limited_a(source),
            absorb_v=source.absorb_v,
            float_v=source.float_v,
            equalise_on=source.equalise_on,
            low_t_stop_c=source.low_t_stop_c,
            excluded_with=source.excluded_with,
            kind=source.kind,
        )
        for source in system.sources
    )
    return (*controllers, *others)


def limited_a(source: ChargeSourceInput) -> float:
    """Return what a source may put out [A]: its rating or the limit set on it."""
    return source.output_a if source.limited_to_a is None else min(source.output_a, source.limited_to_a)
