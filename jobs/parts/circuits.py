"""Which circuits a design needs, and how long their ways are: as surveyed, else as is usual."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

import sizing
from jobs.models import ConfidenceChoice, Design, DesignCircuit, DesignSource, WireLeg
from jobs.parts import power_inputs
from sizing import CircuitKind

#: Usual one-way path where nobody has been yet; common practice, no source. [m]
USUAL_RUN_M: Final[Mapping[str, float]] = {
    CircuitKind.STRINGS_TO_COMBINER: 2.5,
    CircuitKind.HOME_RUN: 8.0,
    CircuitKind.CONTROLLER_TO_BUS: 1.5,
    CircuitKind.BATTERY_TO_MAIN_FUSE: 0.15,
    CircuitKind.BATTERY_LINKS: 0.4,
    CircuitKind.BUS_TO_INVERTER: 1.5,
    CircuitKind.SHUNT_TO_BATTERY: 0.3,
    CircuitKind.START_BATTERY_TO_DC_DC: 7.0,
    CircuitKind.DC_DC_TO_BUS: 1.3,
    CircuitKind.CHARGER_TO_BUS: 2.5,
    CircuitKind.BUS_TO_DC_PANEL: 3.0,
    CircuitKind.SLIDES_AND_JACKS: 5.5,
    CircuitKind.INVERTER_AC_OUT: 3.5,
    CircuitKind.SHORE_AC_IN: 3.5,
    CircuitKind.SENSE_AND_MONITOR: 4.0,
    CircuitKind.PORTABLE_INLET: 3.0,
    CircuitKind.BATTERY_HEATER: 1.2,
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
#: Which parts a kind of circuit is needed for, in the order of the schedule; other kinds are added by hand.
_SERVES: Final[Mapping[CircuitKind, str]] = {
    CircuitKind.STRINGS_TO_COMBINER: "controllers",
    CircuitKind.HOME_RUN: "controllers",
    CircuitKind.CONTROLLER_TO_BUS: "controllers",
    CircuitKind.BATTERY_TO_MAIN_FUSE: "bank",
    CircuitKind.BATTERY_LINKS: "linked bank",
    CircuitKind.BUS_TO_INVERTER: "inverter",
    CircuitKind.SHUNT_TO_BATTERY: "bank",
    CircuitKind.START_BATTERY_TO_DC_DC: "engine",
    CircuitKind.DC_DC_TO_BUS: "engine",
    CircuitKind.CHARGER_TO_BUS: "shore",
    CircuitKind.BUS_TO_DC_PANEL: "loads",
    CircuitKind.BATTERY_HEATER: "heater",
}
#: Insulation a new circuit starts with, common practice; what is printed on the cable wins. [°C]
PV_WIRE_C: Final = 90
BOAT_CABLE_C: Final = 105
_OF_PV_WIRE: Final = frozenset(
    {CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN, CircuitKind.PORTABLE_INLET}
)
_OUTER_ROUTES: Final = frozenset({CircuitKind.STRINGS_TO_COMBINER, CircuitKind.PORTABLE_INLET})
_DC_DC: Final = frozenset(
    {sizing.SourceKind.DC_DC, sizing.SourceKind.TOW_CHARGE_WIRE, sizing.SourceKind.RELAY}
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A circuit a design must have: its kind and what it serves."""

    kind: CircuitKind
    serves: str
    current_a: float | None = None


def wanted_circuits(design: Design) -> Iterator[Wanted]:
    """Yield every circuit that the chosen parts need, in the order of the schedule."""
    served = _served(design)
    amps = {CircuitKind.BUS_TO_DC_PANEL: DC_PANEL_A, CircuitKind.BATTERY_HEATER: _heater_a(design)}
    for kind, group in _SERVES.items():
        yield from (Wanted(kind, serves, amps.get(kind)) for serves in served[group])


def _served(design: Design) -> Mapping[str, list[str]]:
    """Return the parts of a design that ask for circuits, by group."""
    bank, inverter = getattr(design, "bank", None), getattr(design, "inverter", None)
    sources = list(design.sources.all())
    engine = [source for source in sources if power_inputs.source_kind(source) in _DC_DC]
    shore = [source for source in sources if source not in engine and not _is_generator(source)]
    return {
        "controllers": [f"controller:{controller.label}" for controller in design.controllers.all()],
        "bank": ["bank"] if bank else [],
        "linked bank": ["bank"] if bank and bank.quantity > 1 else [],
        "inverter": ["inverter"] if inverter else [],
        "engine": [f"source:{source.pk}" for source in engine],
        "shore": [f"source:{source.pk}" for source in shore],
        "loads": ["load"] if bank else [],
        "heater": ["load"] if _heater_a(design) is not None else [],
    }


def _heater_a(design: Design) -> float | None:
    """Return the current of the heaters in the batteries; None where there are none."""
    bank = getattr(design, "bank", None)
    sheet = getattr(getattr(bank, "part", None), "battery_sheet", None)
    if bank is None or sheet is None or not sheet.is_heated or not sheet.heater_w:
        return None
    return float(round(sheet.heater_w * bank.quantity / design.job.survey.v_nominal_v, 1))


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
        return wanted.kind.value
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
        kind=wanted.kind.value,
        label=label,
        serves=wanted.serves,
        run_len_m=run_len_m,
        confidence=confidence,
        bundle_count=max((leg.bundle_count for leg in legs), default=2),
        in_engine_space=any(leg.is_near_heat for leg in legs),
        on_roof_in_sun=wanted.kind in _OUTER_ROUTES or any(leg.place == WireLeg.Place.ROOF for leg in legs),
        current_a=wanted.current_a,
        at_both_ends=wanted.kind == CircuitKind.START_BATTERY_TO_DC_DC,
        cable_standard="metric" if design.rule_set == sizing.RuleSet.METRIC else "awg",
        insulation_c=usual_insulation_c(wanted.kind),
    )


def usual_insulation_c(kind: str) -> int:
    """Return the insulation a new circuit starts with [°C]: PV wire on the array, boat cable elsewhere."""
    return PV_WIRE_C if kind in _OF_PV_WIRE else BOAT_CABLE_C


def surveyed_run(kind: str, legs: Iterable[WireLeg], vehicle_kind: str) -> tuple[float, str]:
    """Return the path [m] and how well it is known: the sum of its legs, as sure as the least sure one."""
    legs = list(legs)
    if not legs:
        usual = USUAL_HOME_RUN_M.get(vehicle_kind) if kind == CircuitKind.HOME_RUN else None
        return usual or USUAL_RUN_M[kind], ConfidenceChoice.GUESS
    surest_last = ["guess", "scaled", "measured"]
    confidence = min((leg.confidence for leg in legs), key=surest_last.index)
    return round(sum(leg.length_m for leg in legs), 3), confidence


class Labelled(Protocol):
    """A row of the circuit schedule, be it a record or plain data."""

    @property
    def kind(self) -> str: ...
    @property
    def label(self) -> str: ...


def schedule_order(circuit: Labelled) -> tuple[int, str]:
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
