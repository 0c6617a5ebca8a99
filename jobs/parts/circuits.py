"""Which circuits a design needs, and how long their ways are: as surveyed, else as is usual."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import sizing
from jobs.models import ConfidenceChoice, Design, DesignCircuit, DesignSource, WireLeg
from jobs.parts import power_inputs

#: What a circuit connects, by its id.
KIND_WORDS: Final = {
    "C1": "panel strings to combiner",
    "C2": "combiner to controller (home run)",
    "C3": "controller to bus",
    "C4": "battery + to main fuse",
    "C5": "battery links",
    "C6": "bus to inverter",
    "C7": "shunt to battery −",
    "C8": "start battery to DC-DC",
    "C9": "DC-DC to bus",
    "C10": "converter or charger to bus",
    "C11": "bus to DC panel",
    "C12": "slides, jacks, breakaway",
    "C13": "inverter AC out",
    "C14": "shore AC in",
    "C15": "sense and monitor",
    "C16": "portable panel inlet",
    "C17": "battery heater",
}
#: Usual one-way path where nobody has been yet; common practice, no source. [m]
USUAL_RUN_M: Final = {
    "C1": 2.5,
    "C2": 8.0,
    "C3": 1.5,
    "C4": 0.15,
    "C5": 0.4,
    "C6": 1.5,
    "C7": 0.3,
    "C8": 7.0,
    "C9": 1.3,
    "C10": 2.5,
    "C11": 3.0,
    "C12": 5.5,
    "C13": 3.5,
    "C14": 3.5,
    "C15": 4.0,
    "C16": 3.0,
    "C17": 1.2,
}
#: Usual home run by vehicle kind; common practice, no source. [m]
USUAL_HOME_RUN_M: Final = {
    "class_a": 10.0,
    "class_b": 4.5,
    "class_c": 7.5,
    "travel_trailer": 8.0,
    "fifth_wheel": 9.5,
    "toy_hauler": 9.5,
    "truck_camper": 4.5,
    "small_trailer": 3.0,
    "lifting_roof": 4.0,
    "bus": 8.5,
}
#: Main breaker of the DC distribution panel where the survey does not say; common practice. [A]
DC_PANEL_A: Final = 30.0
_OUTER_ROUTES: Final = frozenset({"C1", "C16"})
_DC_DC: Final = frozenset({sizing.SourceKind.DC_DC, sizing.SourceKind.TOW_CHARGE_WIRE})


@dataclass(frozen=True, slots=True)
class Wanted:
    """A circuit a design must have: its kind and what it serves."""

    kind: str
    serves: str
    current_a: float | None = None


def wanted_circuits(design: Design) -> Iterator[Wanted]:
    """Yield every circuit that the chosen parts need, in the order of the schedule."""
    controllers = [f"controller:{controller.label}" for controller in design.controllers.all()]
    bank, inverter = getattr(design, "bank", None), getattr(design, "inverter", None)
    sources = list(design.sources.all())
    for kind in ("C1", "C2", "C3"):
        yield from (Wanted(kind, serves) for serves in controllers)
    if bank:
        yield Wanted("C4", "bank")
        if bank.quantity > 1:
            yield Wanted("C5", "bank")
    if inverter:
        yield Wanted("C6", "inverter")
    if bank:
        yield Wanted("C7", "bank")
    engine = [source for source in sources if power_inputs.source_kind(source) in _DC_DC]
    for kind in ("C8", "C9"):
        yield from (Wanted(kind, f"source:{source.pk}") for source in engine)
    shore = [source for source in sources if source not in engine and not _is_generator(source)]
    yield from (Wanted("C10", f"source:{source.pk}") for source in shore)
    if bank:
        yield Wanted("C11", "load", DC_PANEL_A)
    sheet = getattr(getattr(bank, "part", None), "battery_sheet", None)
    if bank and sheet is not None and sheet.is_heated and sheet.heater_w:
        watts, volts = sheet.heater_w * bank.quantity, design.job.survey.v_nominal_v
        yield Wanted("C17", "load", round(watts / volts, 1))


def _is_generator(source: DesignSource) -> bool:
    """Return whether a source makes line voltage only: it charges through a charger that has its own row."""
    return power_inputs.source_kind(source) is sizing.SourceKind.GENERATOR


def missing_circuits(
    design: Design, but_for: frozenset[tuple[str, str]] = frozenset()
) -> list[DesignCircuit]:
    """Return the circuits the design still lacks, unsaved, with run and bundle from the survey.

    ``but_for`` names circuits (kind and what they serve) that were wanted before and left out on purpose.
    """
    rows = list(design.circuits.all())
    have = {(row.kind, row.serves) for row in rows}
    kinds_without_name = {row.kind for row in rows if not row.serves}
    labels = {row.label for row in rows}
    found = []
    for wanted in wanted_circuits(design):
        if (wanted.kind, wanted.serves) in have | but_for or wanted.kind in kinds_without_name:
            continue
        label = _free_label(wanted, labels)
        labels.add(label)
        found.append(_circuit(design, wanted, label))
    return found


def _free_label(wanted: Wanted, labels: set[str]) -> str:
    """Return the label to print: C2, and C2B for the second of its kind (the controller's own letter)."""
    if wanted.kind not in labels:
        return wanted.kind
    own = wanted.serves.removeprefix("controller:") if wanted.serves.startswith("controller:") else ""
    letters = [own, *"BCDEFGHJKLMNPQRSTUVWXYZ"]
    return next(
        f"{wanted.kind}{letter}" for letter in letters if letter and f"{wanted.kind}{letter}" not in labels
    )


def _circuit(design: Design, wanted: Wanted, label: str) -> DesignCircuit:
    legs = [leg for leg in design.job.survey.wire_legs.all() if leg.circuit == wanted.kind]
    run_len_m, confidence = surveyed_run(wanted.kind, legs, design.job.vehicle.kind)
    return DesignCircuit(
        design=design,
        kind=wanted.kind,
        label=label,
        serves=wanted.serves,
        run_len_m=run_len_m,
        confidence=confidence,
        bundle_count=max((leg.bundle_count for leg in legs), default=2),
        in_engine_space=any(leg.is_near_heat for leg in legs),
        on_roof_in_sun=wanted.kind in _OUTER_ROUTES or any(leg.place == WireLeg.Place.ROOF for leg in legs),
        current_a=wanted.current_a,
        at_both_ends=wanted.kind == "C8",
        cable_standard="metric" if design.rule_set == sizing.RuleSet.METRIC else "awg",
    )


def surveyed_run(kind: str, legs: Iterable[WireLeg], vehicle_kind: str) -> tuple[float, str]:
    """Return the path [m] and how well it is known: the sum of its legs, as sure as the least sure one."""
    legs = list(legs)
    if not legs:
        usual = USUAL_HOME_RUN_M.get(vehicle_kind) if kind == "C2" else None
        return usual or USUAL_RUN_M[kind], ConfidenceChoice.GUESS
    surest_last = ["guess", "scaled", "measured"]
    confidence = min((leg.confidence for leg in legs), key=surest_last.index)
    return round(sum(leg.length_m for leg in legs), 3), confidence


def schedule_order(circuit: DesignCircuit) -> tuple[int, str]:
    """Return where a circuit stands in the schedule: C2 before C10, C2 before C2B."""
    return int(circuit.kind.removeprefix("C") or 0), circuit.label


def serves_choices(design: Design) -> list[tuple[str, str]]:
    """Return what a circuit of this design can belong to, in words."""
    choices = [("", "–")]
    choices += [(f"controller:{one.label}", f"controller {one.label}") for one in design.controllers.all()]
    choices += [(f"string:{one.number}", f"string {one.number}") for one in design.strings.all()]
    choices += [("bank", "bank"), ("inverter", "inverter"), ("load", "loads")]
    choices += [(f"source:{one.pk}", str(one)) for one in design.sources.all()]
    return choices
