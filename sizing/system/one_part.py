"""Asks one part of the engine alone, for a caller who turns one value at a time."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from sizing.array.controller import controller_checks
from sizing.array.strings import controller_result
from sizing.array.used import used_panel_checks
from sizing.battery.alternator import alternator_checks
from sizing.battery.bank import bank_checks, bank_result
from sizing.battery.charging import charge_checks
from sizing.circuits.circuits import PV_KINDS, judge_circuit, shared_checks
from sizing.circuits.surroundings import Surroundings
from sizing.core.checks import Check
from sizing.core.inputs import ControllerInput, InputOutOfRange, SystemInput
from sizing.core.results import CircuitRow, ControllerResult
from sizing.energy.harvest import harvest_checks, month_harvests
from sizing.energy.loads import daily_energy
from sizing.files.validate import validate
from sizing.roof.axles import axle_checks
from sizing.roof.mechanical import roof_checks
from sizing.roof.weight import weight_checks, weight_result
from sizing.system.listed import schedule_checks


class Part(StrEnum):
    """The parts of the engine that can be asked alone, beside single circuits."""

    ARRAY = "array"
    BANK = "bank"
    ROOF = "roof"
    WEIGHT = "weight"


def part_checks(system: SystemInput, part: str) -> tuple[Check, ...]:
    """Return the judgments of one part: the same as in the whole answer, only sooner.

    Parameters
    ----------
    system : SystemInput
        The whole design, already validated. [-]
    part : str
        ``array`` (controllers, strings, plugs, both legs), ``bank`` (harvest, bank, charging), ``roof`` or
        ``weight``. Circuits are asked one by one, see :func:`judge_circuit`. [-]

    Returns
    -------
    tuple of Check
        Those of :func:`size_system` that belong to the part. [V], [A], [-]

    Raises
    ------
    ValueError
        If there is no such part.

    References
    ----------
    .. [1] Each check names its own source.
    """
    return _PARTS[Part(part)](system)


def controller_results(system: SystemInput) -> tuple[ControllerResult, ...]:
    """Return what each controller sees.

    Parameters
    ----------
    system : SystemInput
        The whole design, already validated. [-]

    Returns
    -------
    tuple of ControllerResult
        In the order of the controllers. [V], [A]

    Raises
    ------
    Nothing
        Unknown data is an answer.

    References
    ----------
    .. [1] As :func:`size_system`.
    """
    return tuple(controller_result(system, unit) for unit in system.controllers)


def problem_with(system: SystemInput) -> str:
    """Return why a design cannot be put as a question, empty when it can.

    Parameters
    ----------
    system : SystemInput
        The whole design. [-]

    Returns
    -------
    str
        The words :func:`size_system` would refuse it with. [-]

    Raises
    ------
    Nothing
        The refusal is the answer.

    References
    ----------
    .. [1] Ranges are physical bounds of our own, see :func:`size_system`.
    """
    try:
        validate(system)
    except InputOutOfRange as problem:
        return str(problem)
    return ""


def string_checks(
    system: SystemInput, results: tuple[ControllerResult, ...], rows: tuple[CircuitRow, ...]
) -> tuple[Check, ...]:
    """Return the judgments on every controller with its strings; ``rows`` of array circuits suffice."""
    return tuple(
        check
        for unit, result in zip(system.controllers, results, strict=True)
        for check in controller_checks(system, unit, result, _pv_rows(system, unit, rows))
    )


def _pv_rows(
    system: SystemInput, unit: ControllerInput, rows: tuple[CircuitRow, ...]
) -> tuple[CircuitRow, ...]:
    """Return the rows between the panels and one controller."""
    around = Surroundings(system)
    ids = {
        circuit.id
        for circuit in system.circuits
        if circuit.kind in PV_KINDS and around.controller(circuit) == unit
    }
    return tuple(row for row in rows if row.id in ids)


def _array(system: SystemInput) -> tuple[Check, ...]:
    results = controller_results(system)
    rows = tuple(
        judge_circuit(system, circuit, results, proposes=False)[0]
        for circuit in system.circuits
        if circuit.kind in PV_KINDS
    )
    return (*string_checks(system, results, rows), *used_panel_checks(system), *shared_checks(system, rows))


def _bank(system: SystemInput) -> tuple[Check, ...]:
    energy = daily_energy(system.loads, system.inverter)
    months = month_harvests(system, energy.e_day_wh)
    return (
        *harvest_checks(system, energy.e_day_wh, months),
        *bank_checks(system, energy, bank_result(system, energy)),
        *schedule_checks(system),
        *charge_checks(system),
        *alternator_checks(system),
    )


def _weight(system: SystemInput) -> tuple[Check, ...]:
    return (*weight_checks(system, weight_result(system)), *axle_checks(system))


_PARTS: Final[MappingProxyType[Part, Callable[[SystemInput], tuple[Check, ...]]]] = MappingProxyType(
    {Part.ARRAY: _array, Part.BANK: _bank, Part.ROOF: roof_checks, Part.WEIGHT: _weight}
)
