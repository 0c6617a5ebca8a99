"""Which facts a survey must hold before a string plan, a quote and install day, and which it has."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import sizing
from jobs.models import ConfidenceChoice, ExistingItem, Survey, Vehicle
from jobs.survey import PARTS, PHOTOS, Fact

#: A bank this heavy moves the axle split, so that the wheelbase is needed. [kg]
HEAVY_BANK_KG: Final = 60.0
_TICKS: Final = frozenset({"is_moisture_checked", "is_household_asked"})
Kind = ExistingItem.Kind
_CHARGERS: Final = (Kind.CONVERTER, Kind.INVERTER_CHARGER)


@dataclass(frozen=True)
class Need:
    """One thing asked for before a stage."""

    stage: str
    label: str
    part: str  # slug
    anchor: str
    is_filled: bool
    guess: str = ""


def needs_of(survey: Survey, vehicle: Vehicle, *, has_dc_dc: bool) -> list[Need]:
    """Return everything this survey is asked for; ``has_dc_dc``: an engine-fed charger is kept or planned."""
    return [
        *_facts(survey, vehicle),
        *_roof(survey),
        *_wire(survey),
        *_equipment(survey, vehicle, has_dc_dc=has_dc_dc),
        *_use(survey),
    ]


def _facts(survey: Survey, vehicle: Vehicle) -> Iterable[Need]:
    for part in PARTS.values():
        for fact in part.facts:
            if fact.need and _applies(fact, survey):
                record = vehicle if fact.on == "vehicle" else survey
                yield Need(
                    fact.need,
                    fact.label,
                    part.slug,
                    f"id_{fact.name}",
                    is_known(fact, record, survey),
                    fact.guess,
                )


def _applies(fact: Fact, survey: Survey) -> bool:
    if fact.when != "heavy_bank":
        return True
    batteries = [item for item in survey.existing_items.all() if item.kind == Kind.BATTERY]
    return sum(item.mass_kg or 0 for item in batteries) > HEAVY_BANK_KG


def is_known(fact: Fact, record: Any, survey: Survey) -> bool:
    """Return whether the fact is filled in."""
    value = getattr(record, fact.name)
    if fact.name == "photos_taken":
        return set(photos_needed(survey)) <= set(value)
    if fact.name in _TICKS:
        return bool(value)
    return value not in (None, "", Survey.Material.UNKNOWN)


def photos_needed(survey: Survey) -> tuple[str, ...]:
    """Return the photos this survey must have; none of what is not there."""
    absent = {
        "soft_spots": not survey.soft_spots.all(),
        "obstacles": not survey.obstacles.all(),
        "odometer": survey.job.vehicle.is_towed,
        "converter": Kind.CONVERTER in survey.absent_kinds,
    }
    return tuple(code for code, _label in PHOTOS if not absent.get(code))


def _roof(survey: Survey) -> Iterable[Need]:
    yield Need(
        "S",
        "Things on the roof",
        "obstacles",
        "list-obstacles",
        bool(survey.obstacles.all()) or "obstacle" in survey.absent_kinds,
        "obstacles",
    )
    spots = survey.soft_spots.all()
    if spots:
        read = all(spot.moisture_fraction is not None for spot in spots)
        yield Need("Q", "Moisture reading of each soft spot", "roof", "list-soft_spots", read)


def _wire(survey: Survey) -> Iterable[Need]:
    legs = list(survey.wire_legs.all())
    home_run = [leg for leg in legs if leg.circuit == sizing.CircuitKind.HOME_RUN]
    anchor = "list-wire_legs"
    yield Need("S", "Route of the home run (C2)", "wire", anchor, bool(home_run), "circuit:C2.run_len")
    measured = bool(legs) and all(leg.confidence == ConfidenceChoice.MEASURED for leg in legs)
    yield Need("I", "Every wire leg measured", "wire", anchor, measured)


def _use(survey: Survey) -> Iterable[Need]:
    yield Need("S", "Loads", "loads", "list-loads", bool(survey.loads.all()), "loads")
    yield Need("S", "Places and months", "travel", "list-stops", bool(survey.stops.all()), "legs")


def _equipment(survey: Survey, vehicle: Vehicle, *, has_dc_dc: bool) -> Iterable[Need]:
    items = list(survey.existing_items.all())

    def ask(label: str, *kinds: str, facts: tuple[str, ...] = ()) -> Need:
        """Return the need for one of these kinds, each with these facts, or "not there"."""
        found = [item for item in items if item.kind in kinds]
        known = all(getattr(item, name) not in (None, "") for item in found for name in facts)
        is_filled = (bool(found) and known) or (not found and set(kinds) <= set(survey.absent_kinds))
        return Need("Q", label, "equipment", "list-existing_items", is_filled, "sources")

    yield ask(
        "Battery now: chemistry, volts, amp-hours",
        Kind.BATTERY,
        facts=("chemistry", "voltage_v", "capacity_ah"),
    )
    yield ask("Converter or charger with its amps", *_CHARGERS, facts=("rating_a",))
    yield ask("Generator", Kind.GENERATOR)
    yield ask("Shore service with its amps", Kind.SHORE, facts=("rating_a",))
    yield ask("DC panel: main and spare circuits", Kind.DC_PANEL, facts=("rating_a", "spare_ways"))
    yield ask("AC panel: spare circuits", Kind.AC_PANEL, facts=("spare_ways",))
    if has_dc_dc:
        yield ask("Alternator with its amps", Kind.ALTERNATOR, facts=("rating_a",))
    if vehicle.is_towed:
        yield ask("Tow charge wire: size, length, fuse", Kind.TOW_WIRE, facts=("wire_size", "run_len_m"))
    leads = [item for item in items if item.kind == Kind.PANEL and item.fate == ExistingItem.Fate.KEEP]
    if leads:
        told = all(
            item.age_years is not None or None not in (item.measured_isc_a, item.measured_at_w_m2)
            for item in leads
        )
        yield Need("Q", "Age or measured amps of panels that stay", "equipment", "list-existing_items", told)
        named = all(item.connectors for item in leads)
        yield Need("I", "Connectors on leads that stay", "equipment", "list-existing_items", named)
