"""One circuit with all that is known about it when it is judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.cable.circuit_kinds import KindFacts, circuit_facts
from sizing.circuits.circuit_choice import Choice, choose, rule_set_of
from sizing.circuits.circuit_currents import basis
from sizing.circuits.surroundings import Basis, Surroundings
from sizing.core.guesses import resting_on
from sizing.core.inputs import CircuitInput, CircuitKind, Confidence, RuleSet


@dataclass(frozen=True, slots=True)
class Case:
    """One circuit with all that is known about it when it is judged."""

    around: Surroundings
    circuit: CircuitInput
    kind: KindFacts
    basis: Basis
    choice: Choice
    guesses: tuple[str, ...]

    @property
    def rule_set(self) -> RuleSet:
        """Return the rules this circuit is judged by."""
        return rule_set_of(self.around.system.rule_set, self.circuit)

    @property
    def subject(self) -> str:
        """Return what the checks are about."""
        return f"circuit:{self.circuit.id}"

    def key(self, name: str) -> str:
        """Return the stable key of one check of this circuit."""
        return f"{self.subject}/{name}"


def case(around: Surroundings, circuit: CircuitInput) -> Case:
    """Return a circuit with its current, conductor and device worked out, and the guesses it rests on."""
    needs = basis(around, circuit)
    choice = choose(around, circuit, needs)
    named = (f"circuit:{circuit.id}.run_len", *_RESTS_ON.get(circuit.kind, ("bank",)))
    guesses = set(resting_on(around.system, named))
    if circuit.confidence is Confidence.GUESS:
        guesses.add(named[0])
    return Case(around, circuit, circuit_facts(circuit.kind), needs, choice, tuple(sorted(guesses)))


_PV_FACTS: Final = ("panels", "strings", "controllers")
_RESTS_ON: Final = {
    CircuitKind.STRINGS_TO_COMBINER: _PV_FACTS,
    CircuitKind.HOME_RUN: _PV_FACTS,
    CircuitKind.CONTROLLER_TO_BUS: ("controllers", "bank"),
    CircuitKind.BUS_TO_INVERTER: ("inverter", "bank"),
    CircuitKind.BATTERY_TO_MAIN_FUSE: ("inverter", "bank"),
    CircuitKind.START_BATTERY_TO_DC_DC: ("sources", "bank"),
    CircuitKind.DC_DC_TO_BUS: ("sources", "bank"),
    CircuitKind.CHARGER_TO_BUS: ("sources", "bank"),
    CircuitKind.BUS_TO_DC_PANEL: ("loads",),
}
