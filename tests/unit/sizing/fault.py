"""Invented banks with a main fuse, and the fault current where a device of theirs stands."""

from __future__ import annotations

from sizing.circuits.circuit_case import case
from sizing.circuits.fault_current import Fault, bank_leads, fault_at
from sizing.circuits.surroundings import Surroundings
from sizing.core.inputs import BankInput, CircuitInput, CircuitKind, OcpdInput, SystemInput
from tests.unit.sizing.wiring import system


def row(
    name: str, size: str, run_len_m: float | None, *, away_m: float | None = None, **device: object
) -> CircuitInput:
    """Return a circuit of this size and length; its device, if any is described, stands ``away_m`` along."""
    ocpd = None
    if away_m is not None or device:
        ocpd = OcpdInput(60.0, distance_to_source_m=away_m, **device)  # type: ignore[arg-type]
    return CircuitInput(name, CircuitKind(name), run_len_m, size=size, ocpd=ocpd)


def main_run(interrupting_a: float = 20_000.0) -> CircuitInput:
    """Return 0.15 m of 4/0 from the battery to a 400 A main device."""
    device = OcpdInput(400.0, "class T", 125.0, interrupting_a, 0.15)
    return CircuitInput("C4", CircuitKind.BATTERY_TO_MAIN_FUSE, 0.15, size="4/0", ocpd=device)


def design(bank: BankInput, *circuits: CircuitInput, v_nominal_v: float = 12.0) -> SystemInput:
    """Return a design with this bank and these circuits."""
    return system(*circuits, bank=bank, v_nominal_v=v_nominal_v)


def fault_of(bank: BankInput, *circuits: CircuitInput, at: str, v_nominal_v: float = 12.0) -> Fault:
    """Return the fault current at the device of the circuit named."""
    around = Surroundings(design(bank, *circuits, v_nominal_v=v_nominal_v))
    found = case(around, next(each for each in circuits if each.id == at))
    return fault_at(found, bank_leads(around), bank)
