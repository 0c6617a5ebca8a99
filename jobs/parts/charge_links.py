"""What the chargers of a design hang on: transfer switches, the charger one feeds, the alternator."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

import sizing
from jobs.models import Design, DesignSource, ExistingItem
from jobs.parts.power_inputs import inverter_as_charger, only_of, source_input

#: What a person types where a generator charges through the inverter-charger; also its id.
INVERTER: Final = "inverter"
_LINE_CHARGERS: Final = (sizing.SourceKind.INVERTER_CHARGER, sizing.SourceKind.CONVERTER)
_ON_ENGINE: Final = frozenset({sizing.SourceKind.DC_DC, sizing.SourceKind.RELAY})


def is_named(typed: str, name: str) -> bool:
    """Return whether two names mean the same thing, whatever the capitals and spaces."""
    return typed.strip().casefold() == name.strip().casefold()


def charge_sources(design: Design) -> tuple[sizing.ChargeSourceInput, ...]:
    """Return every charger of a design besides the sun, with what it hangs on."""
    records = list(design.sources.all())
    asked = [_on_alternator(design, record, source_input(record)) for record in records]
    through = {str(record.pk): record.through for record in records}
    switches = {str(record.pk): record.either_or for record in records}
    for unit in inverter_as_charger(design):
        asked.append(unit)
        switches[unit.id] = only_of(design, "inverter").either_or
    return tuple(_linked(unit, asked, through, switches) for unit in asked)


def _linked(
    unit: sizing.ChargeSourceInput,
    all_units: Sequence[sizing.ChargeSourceInput],
    through: Mapping[str, str],
    switches: Mapping[str, str],
) -> sizing.ChargeSourceInput:
    """Return a unit with the ids of what it feeds and of what it never runs with."""
    others = [other for other in all_units if other.id != unit.id]
    switch, wanted = switches.get(unit.id, ""), through.get(unit.id, "")
    apart = [other.id for other in others if switch and is_named(switch, switches.get(other.id, ""))]
    feeds = [other.id for other in others if is_named(wanted, _name(other))]
    if not wanted and unit.kind is sizing.SourceKind.GENERATOR:
        feeds = _line_chargers(others)
    return replace(
        unit,
        excluded_with=(*unit.excluded_with, *apart),
        through=feeds[0] if feeds else "",
    )


def _line_chargers(others: Sequence[sizing.ChargeSourceInput]) -> list[str]:
    """Return what a generator of line voltage charges through where nobody says: inverter-charger first."""
    return [other.id for kind in _LINE_CHARGERS for other in others if other.kind is kind]


def _name(unit: sizing.ChargeSourceInput) -> str:
    return INVERTER if unit.id == INVERTER else unit.name


def _on_alternator(
    design: Design, record: DesignSource, unit: sizing.ChargeSourceInput
) -> sizing.ChargeSourceInput:
    """Return a charger on the engine with its alternator: as typed for it, else as the survey found it."""
    if unit.kind not in _ON_ENGINE:
        return unit
    found = _surveyed(design.job.survey.existing_items.all(), record.alternator)
    rating_a, idle_a = record.alternator_rating_a, record.alternator_idle_a
    return replace(
        unit,
        alternator_id=record.alternator.strip().casefold(),
        alternator_rating_a=rating_a if rating_a is not None or found is None else found.rating_a,
        alternator_idle_a=idle_a if idle_a is not None or found is None else found.idle_hot_a,
        alternator_load_a=record.alternator_load_a,
    )


def _surveyed(items: Iterable[ExistingItem], name: str) -> ExistingItem | None:
    """Return the alternator of the survey: the one of this name, or the only one where none is named."""
    gone = {ExistingItem.Fate.REMOVE, ExistingItem.Fate.REPLACE}
    kept = [one for one in items if one.kind == ExistingItem.Kind.ALTERNATOR and one.fate not in gone]
    if name.strip():
        return next((one for one in kept if is_named(name, one.name)), None)
    return kept[0] if len(kept) == 1 else None
