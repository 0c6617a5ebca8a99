"""What is wired to a bank without a circuit of its own in the schedule, where nothing judges its wire."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sizing.battery.chargers import charges_through
from sizing.cable.circuit_kinds import circuit_facts
from sizing.circuits.interrupting import main_device_checks
from sizing.core.checks import Check, Provenance, Verdict
from sizing.core.inputs import ChargeSourceInput, CircuitKind, SourceKind, SystemInput
from sizing.core.judge import fact_check

#: By kind of source: circuits it needs, any one of each group. A generator makes line voltage: its charger
#: counts. What a relay or a tow wire lets through begins at a battery, too.
_FROM_ENGINE: Final = ((CircuitKind.START_BATTERY_TO_DC_DC,), (CircuitKind.DC_DC_TO_BUS,))
_NEEDS: Final = {
    SourceKind.DC_DC: _FROM_ENGINE,
    SourceKind.RELAY: _FROM_ENGINE,
    SourceKind.TOW_CHARGE_WIRE: _FROM_ENGINE,
    SourceKind.GENERATOR: (),
    SourceKind.INVERTER_CHARGER: ((CircuitKind.CHARGER_TO_BUS, CircuitKind.BUS_TO_INVERTER),),
    SourceKind.PORTABLE_PV: ((CircuitKind.CHARGER_TO_BUS, CircuitKind.PORTABLE_INLET),),
}
_OF_A_CHARGER: Final = ((CircuitKind.CHARGER_TO_BUS,),)


def schedule_checks(system: SystemInput) -> list[Check]:
    """Return "not enough data" for the main device and the feeds of a bank that no circuit stands for.

    Parameters
    ----------
    system : SystemInput
        The whole design. [-]

    Returns
    -------
    list of Check
        ``bank/main_device`` and ``circuits/feeds``, each only where something is not listed. [-]

    Raises
    ------
    Nothing
        A schedule that lacks a circuit is an answer.

    References
    ----------
    .. [1] Common practice, no source: a wire that is not listed is not judged.
    """
    lacking = [] if system.bank is None else list(dict.fromkeys(_lacking(system)))
    return [*main_device_checks(system), *([_feeds_check(lacking)] if lacking else [])]


def _feeds_check(lacking: list[str]) -> Check:
    return fact_check(
        rule="schedule",
        key="circuits/feeds",
        subject="circuits",
        title="Circuit schedule complete",
        is_met=False,
        unmet=Verdict.NOT_ENOUGH_DATA,
        sentence=f"Not in the schedule: {', '.join(lacking)}. A wire that is not listed is not judged.",
        source="common practice, no source: every wire on a bank is listed and judged",
        provenance=Provenance.COMMON_PRACTICE,
        action="Add these circuits to the schedule.",
    )


def _lacking(system: SystemInput) -> Iterator[str]:
    """Yield what has no circuit: its kind, and the thing by its name."""
    for unit in system.controllers:
        if not _is_listed(system, (CircuitKind.CONTROLLER_TO_BUS,), f"controller:{unit.id}"):
            yield _words(CircuitKind.CONTROLLER_TO_BUS, unit.name)
    if system.inverter is not None and not _is_listed(system, (CircuitKind.BUS_TO_INVERTER,), "inverter"):
        yield _words(CircuitKind.BUS_TO_INVERTER, system.inverter.name)
    for source in system.sources:
        for kinds in () if charges_through(system, source) else _NEEDS.get(source.kind, _OF_A_CHARGER):
            if not _is_listed(system, kinds, _serves(source)):
                yield _words(kinds[0], source.name)


def _serves(source: ChargeSourceInput) -> str:
    return f"source:{source.id}"


def _is_listed(system: SystemInput, kinds: tuple[CircuitKind, ...], serves: str) -> bool:
    """Return whether a circuit of such a kind serves it; one that names nothing may, and is judged itself."""
    fitting = [circuit for circuit in system.circuits if circuit.kind in kinds]
    return any(
        circuit.serves == serves or ":" not in circuit.serves or circuit.kind is CircuitKind.BUS_TO_INVERTER
        for circuit in fitting
    )


def _words(kind: CircuitKind, name: str) -> str:
    return f"{kind.value} {circuit_facts(kind).from_to} ({name})"
