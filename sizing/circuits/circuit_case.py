"""One circuit with all that is known about it when it is judged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from sizing.cable.circuit_kinds import KindFacts, circuit_facts
from sizing.circuits.circuit_choice import Choice, choose, rule_set_of
from sizing.circuits.circuit_currents import basis
from sizing.circuits.surroundings import Basis, Surroundings
from sizing.core.customary import show_both
from sizing.core.guesses import judged_len_m, resting_on
from sizing.core.inputs import CircuitInput, CircuitKind, Confidence, RuleSet


@dataclass(frozen=True, slots=True)
class Case:
    """One circuit with all that is known about it when it is judged; its length is the one judged by."""

    around: Surroundings
    circuit: CircuitInput
    given_len_m: float | None  # before a guess was lengthened
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

    @property
    def guess_words(self) -> str:
        """Return what a guessed length is judged as, in words."""
        if self.given_len_m is None or self.circuit.run_len_m is None:
            return "length is a guess"
        given, counted = (show_both(each, "m", 2) for each in (self.given_len_m, self.circuit.run_len_m))
        return f"length is a guess: {given} given, {counted} counted"

    def key(self, name: str) -> str:
        """Return the stable key of one check of this circuit."""
        return f"{self.subject}/{name}"


def case(around: Surroundings, circuit: CircuitInput) -> Case:
    """Return a circuit with its current, conductor and device worked out, and the guesses it rests on.

    A guessed length is made longer here and nowhere else.
    """
    given_len_m = circuit.run_len_m
    circuit = replace(circuit, run_len_m=judged_len_m(circuit))
    needs = basis(around, circuit)
    choice = choose(around, circuit, needs)
    named = (f"circuit:{circuit.id}.run_len", *_RESTS_ON.get(circuit.kind, ("bank",)))
    guesses = set(resting_on(around.system, named))
    if circuit.confidence is Confidence.GUESS:
        guesses.add(named[0])
    return Case(
        around, circuit, given_len_m, circuit_facts(circuit.kind), needs, choice, tuple(sorted(guesses))
    )


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
