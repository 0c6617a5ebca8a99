"""Changes the circuit schedule of a draft design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from common.told import in_english
from jobs.design.revision import Change, DesignRefused, design_change, propose_circuits
from jobs.design.rows import Row, write_rows
from jobs.engine.stored import latest_run, result_of
from jobs.models import (
    Design,
    DesignCircuit,
    SizingRun,
)
from sizing import CircuitKind, CircuitRow

#: A device family that suits a circuit, where the proposal is taken as it stands; common practice.
_FAMILIES: Final[Mapping[str, str]] = {
    CircuitKind.BATTERY_TO_MAIN_FUSE: "class T",
    CircuitKind.BUS_TO_INVERTER: "class T",
    CircuitKind.STRINGS_TO_COMBINER: "gPV",
    CircuitKind.PORTABLE_INLET: "gPV",
}


_LARGE_FAMILY, _SMALL_FAMILY, _SMALL_TO_A = "large bolt-down (SF51)", "small bolt-down (SF30)", 150.0


@in_english
def circuits_change(*, design: Design, rows: Sequence[Row], change: Change) -> SizingRun | None:
    """Set the rows of the circuit schedule."""
    return design_change(
        design,
        change,
        "circuits changed",
        lambda locked: f"{write_rows(locked, DesignCircuit, rows)} circuits",
    )


@in_english
def circuits_propose(*, design: Design, change: Change) -> SizingRun | None:
    """Add the circuits the chosen parts need and the schedule lacks."""
    return design_change(
        design, change, "circuits proposed", lambda locked: f"{propose_circuits(locked)} circuits added"
    )


@in_english
def proposals_take(*, design: Design, change: Change) -> SizingRun | None:
    """Write the engine's proposed sizes and devices into the rows that were left blank."""

    def apply(locked: Design) -> str:
        run = latest_run(locked)
        if run is None:
            raise DesignRefused("There is no proposal yet: the design has not been sized.")
        proposed = {row.id: row for row in result_of(run).circuits}
        taken = [
            _take(circuit, proposed[circuit.label])
            for circuit in locked.circuits.all()
            if circuit.label in proposed
        ]
        return f"{sum(taken)} circuits"

    return design_change(design, change, "proposals taken", apply)


@in_english
def devices_take(*, design: Design, change: Change, labels: Sequence[str] = ()) -> SizingRun | None:
    """Put the devices that pass in place of those that do not: of the circuits named, else of all."""

    def apply(locked: Design) -> str:
        run = latest_run(locked)
        if run is None:
            raise DesignRefused("There is no proposal yet: the design has not been sized.")
        better = {row.id: row for row in result_of(run).circuits if row.proposed_fuse_a is not None}
        wanted = set(labels) or set(better)
        if not wanted & set(better):
            raise DesignRefused("There is nothing to replace: no other fuse or breaker does better there.")
        taken = [one for one in locked.circuits.all() if one.label in wanted & set(better)]
        for circuit in taken:
            _put(circuit, better[circuit.label])
        return ", ".join(f"{one.label}: {one.fuse_family} {one.fuse_a:g} A" for one in taken)

    return design_change(design, change, "fuses replaced", apply)


def _put(circuit: DesignCircuit, row: CircuitRow) -> None:
    """Write a proposed device over a circuit's own; what was marked on the old one goes with it."""
    circuit.fuse_a, circuit.fuse_family = row.proposed_fuse_a, row.proposed_family
    circuit.fuse_voltage_v = circuit.fuse_interrupting_a = None
    circuit.has_no_protection = False
    circuit.full_clean()
    circuit.save()


def _take(circuit: DesignCircuit, row: Any) -> bool:
    """Fill what was blank in a circuit from its judged row; return whether anything was."""
    changed = False
    if row.is_proposed_size and row.size and not circuit.size:
        circuit.size, changed = row.size, True
    if row.is_proposed_fuse and row.fuse_a is not None and circuit.fuse_a is None:
        circuit.fuse_a, changed = row.fuse_a, True
        circuit.fuse_family = circuit.fuse_family or row.proposed_family or _family(circuit.kind, row.fuse_a)
        if circuit.kind == CircuitKind.BATTERY_TO_MAIN_FUSE and circuit.fuse_distance_m is None:
            circuit.fuse_distance_m = circuit.run_len_m
    if changed:
        circuit.full_clean()
        circuit.save()
    return changed


def _family(kind: str, fuse_a: float) -> str:
    """Return a device family for a proposed fuse; none for the array device, whose volts decide."""
    if kind == CircuitKind.HOME_RUN:
        return "gPV" if fuse_a <= 32 else ""
    if kind in {CircuitKind.INVERTER_AC_OUT, CircuitKind.SHORE_AC_IN}:
        return ""
    return _FAMILIES.get(kind) or (_SMALL_FAMILY if fuse_a <= _SMALL_TO_A else _LARGE_FAMILY)
