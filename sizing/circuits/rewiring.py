"""What can be done when a run turns out longer: thicker cable, or the panels strung otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import batched
from typing import Final

from sizing.array.controller import controller_checks
from sizing.array.strings import controller_result, wired_strings
from sizing.cable.circuit_kinds import circuit_facts
from sizing.circuits.circuit_choice import candidates
from sizing.circuits.circuits import judge_circuits
from sizing.circuits.surroundings import Surroundings
from sizing.core.checks import Check, Verdict, worst
from sizing.core.customary import show_both
from sizing.core.inputs import (
    CircuitInput,
    Confidence,
    ControllerInput,
    InputOutOfRange,
    StringInput,
    SystemInput,
)
from sizing.core.judge import show_percent
from sizing.core.results import CircuitRow, ControllerResult

COPPER_KG_PER_M3: Final = 8960.0  # density of copper [kg/m³]
#: Judgments on a controller that re-stringing can change.
STRING_CHECKS: Final = ("cold_voc", "hot_start", "hot_run", "pv_isc")
AS_ENTERED: Final = "as_entered"
RESIZE: Final = "resize"
RESTRING: Final = "restring"


@dataclass(frozen=True, slots=True)
class WireOption:
    """One way to build a circuit at its real length, with what it loses and how it is judged."""

    kind: str  # as_entered, resize, restring
    words: str
    size: str
    size_words: str
    ns: int | None
    np: int | None
    run_len_m: float
    drop_v: float | None
    drop_fraction: float | None
    voc_cold_v: float | None  # re-stringing only
    extra_copper_kg: float  # over the cable as entered, both conductors
    verdict: Verdict
    reopens: tuple[str, ...]  # keys of checks that must be looked at again
    checks: tuple[Check, ...]


def wire_options(
    system: SystemInput, circuit_id: str, *, run_len_m: float | None = None, size: str | None = None
) -> tuple[WireOption, ...]:
    """Return the ways to build one circuit at a new length: as entered, thicker, strung otherwise.

    Parameters
    ----------
    system : SystemInput
        The design. [-]
    circuit_id : str
        Which circuit. [-]
    run_len_m : float, optional
        One-way path as measured; the design's own when left out. [m]
    size : str, optional
        Cable as fitted; the design's own when left out. [-]

    Returns
    -------
    tuple of WireOption
        First the circuit as entered, then each thicker size up to the first that passes, then every other
        equal grouping of the same panels in series. [V], [-], [kg]

    Raises
    ------
    InputOutOfRange
        If there is no such circuit, or neither it nor the call names a length.

    References
    ----------
    .. [1] F15 and the limits of :mod:`sizing.cable.circuit_kinds`; density of copper 8960 kg/m³.
    """
    circuit = next((each for each in system.circuits if each.id == circuit_id), None)
    if circuit is None:
        raise InputOutOfRange("circuit_id", f'there is no circuit "{circuit_id}"')
    if run_len_m is not None:
        circuit = replace(circuit, run_len_m=run_len_m, confidence=Confidence.MEASURED)
    if circuit.run_len_m is None:
        raise InputOutOfRange("run_len_m", "is not known: give the measured one-way path in m")
    entered = replace(circuit, size=circuit.size if size is None else size)
    built = _with(system, entered)
    first = _option(built, entered, AS_ENTERED, "", None)
    sized = replace(entered, size=first.size or None)
    return (
        first,
        *_thicker(built, sized, first),
        *_otherwise_strung(built, sized, first),
    )


def _with(system: SystemInput, circuit: CircuitInput) -> SystemInput:
    rows = tuple(circuit if each.id == circuit.id else each for each in system.circuits)
    return replace(system, circuits=rows)


def _thicker(system: SystemInput, circuit: CircuitInput, first: WireOption) -> Iterator[WireOption]:
    """Each size above the one entered, until one passes."""
    if first.verdict is Verdict.PASS:
        return
    area_mm2 = _row(system, circuit.id)[0].area_mm2 or 0.0
    for cable in candidates(system.rule_set, circuit):
        if cable.area_mm2 <= area_mm2:
            continue
        wanted = replace(circuit, size=cable.label, cable_standard=cable.standard.value)
        found = _option(_with(system, wanted), wanted, RESIZE, f"use {cable.words}", area_mm2)
        yield found
        if found.verdict is Verdict.PASS:
            return


def _otherwise_strung(system: SystemInput, circuit: CircuitInput, first: WireOption) -> Iterator[WireOption]:
    """Every other equal grouping of the same, equal panels on the circuit's controller."""
    controller = Surroundings(system).controller(circuit) if circuit_facts(circuit.kind).is_pv else None
    if controller is None:
        return
    strings = wired_strings(system, controller)
    names = [name for wired in strings for name in wired.string.panel_ids]
    specs = {panel for wired in strings for panel in wired.panels}
    if len(specs) != 1:
        return  # unlike panels are not regrouped blindly
    now = {wired.ns for wired in strings}
    for ns in range(len(names), 0, -1):
        if len(names) % ns or now == {ns}:
            continue
        regrouped = _regrouped(system, controller, names, ns)
        np = len(names) // ns
        same = next(each for each in regrouped.circuits if each.id == circuit.id)
        yield _option(regrouped, same, RESTRING, f"re-string {ns}S{np}P on the same cable", None, controller)


def _regrouped(system: SystemInput, controller: ControllerInput, names: list[str], ns: int) -> SystemInput:
    others = tuple(each for each in system.strings if each.controller_id != controller.id)
    made = tuple(
        StringInput(f"{controller.id}/{index}", controller.id, tuple(group))
        for index, group in enumerate(batched(names, ns), start=1)
    )
    panels = tuple(replace(panel, string_id=None) for panel in system.panels)
    circuits = tuple(
        replace(each, serves=f"controller:{controller.id}") if each.serves.startswith("string:") else each
        for each in system.circuits
    )
    return replace(system, strings=(*others, *made), panels=panels, circuits=circuits)


def _option(
    system: SystemInput,
    circuit: CircuitInput,
    kind: str,
    words: str,
    area_mm2: float | None,
    controller: ControllerInput | None = None,
) -> WireOption:
    row, checks = _row(system, circuit.id)
    result, string_checks = (None, ()) if controller is None else _strings(system, controller, row)
    area = row.area_mm2 or 0.0
    length_m = row.run_len_m or 0.0
    extra_m2 = 0.0 if area_mm2 is None else (area - area_mm2) * 1e-6
    run = f"{row.size_words}, {show_both(length_m, 'm', 2)}"
    return WireOption(
        kind=kind,
        words=f"{words or run}: loses {show_percent(row.drop_fraction)}",
        size=row.size or "",
        size_words=row.size_words,
        ns=None if result is None else result.ns,
        np=None if result is None else result.np,
        run_len_m=length_m,
        drop_v=row.drop_v,
        drop_fraction=row.drop_fraction,
        voc_cold_v=None if result is None else result.voc_cold_v,
        extra_copper_kg=2 * length_m * extra_m2 * COPPER_KG_PER_M3 * circuit.parallel_conductors,
        verdict=worst((*checks, *string_checks)),
        reopens=tuple(check.key for check in string_checks),
        checks=(*checks, *string_checks),
    )


def _row(system: SystemInput, circuit_id: str) -> tuple[CircuitRow, tuple[Check, ...]]:
    results = tuple(controller_result(system, each) for each in system.controllers)
    rows, checks, _ = judge_circuits(system, results)
    subject = f"circuit:{circuit_id}"
    found = next(row for row in rows if row.id == circuit_id)
    return found, tuple(check for check in checks if check.subject == subject)


def _strings(
    system: SystemInput, controller: ControllerInput, row: CircuitRow
) -> tuple[ControllerResult, tuple[Check, ...]]:
    result = controller_result(system, controller)
    wanted = {f"controller:{controller.id}/{name}" for name in STRING_CHECKS}
    found = controller_checks(system, controller, result, (row,))
    return result, tuple(check for check in found if check.key in wanted)
