"""How the rule sets disagree about one design, side by side."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sizing.array.strings import controller_result, wired_strings
from sizing.cable.circuit_kinds import circuit_facts
from sizing.cable.overcurrent import StringFuse, device_limits_compared, string_fuse_methods
from sizing.cable.rulesets import rule_set_title
from sizing.circuits.circuits import judge_circuits
from sizing.core.checks import Verdict, worst
from sizing.core.inputs import CircuitInput, RuleSet, SystemInput
from sizing.core.results import CircuitRow, ControllerResult


@dataclass(frozen=True, slots=True)
class RuleSetAnswer:
    """What one rule set says about one circuit."""

    rule_set: RuleSet
    title: str
    proposed_size: str  # smallest that passes under this rule set
    proposed_fuse_a: float | None
    chosen_verdict: Verdict  # of the size and device as chosen; same as proposed where none is
    chosen_ampacity_a: float | None
    chosen_max_ocpd_a: float | None
    rests_on_memory: bool


@dataclass(frozen=True, slots=True)
class CircuitComparison:
    """One circuit under every rule set, and where printed limits on its size disagree."""

    circuit_id: str
    answers: tuple[RuleSetAnswer, ...]
    device_limits: tuple[tuple[str, float, str], ...]  # small conductors: name, limit [A], source
    string_fuses: tuple[StringFuse, ...]  # array circuits: the same strings by each standard

    @property
    def disagrees(self) -> bool:
        """Return whether verdicts differ, or the sizes proposed by the sets that share AWG sizes."""
        sizes = {each.proposed_size for each in self.answers if each.rule_set is not RuleSet.METRIC}
        return len(sizes) > 1 or len({each.chosen_verdict for each in self.answers}) > 1


def compare_rule_sets(system: SystemInput) -> tuple[CircuitComparison, ...]:
    """Return every circuit of a design as each rule set sees it.

    Parameters
    ----------
    system : SystemInput
        The design; its own rule set is one of the four. [-]

    Returns
    -------
    tuple of CircuitComparison
        Proposed size, device [A], ampacity [A] and verdict per rule set; limits on small conductors;
        string-fuse sums by NFPA 70, IEC 62548 and IEC 60364-7-712.

    Raises
    ------
    InputOutOfRange
        If a circuit names a size that no table has.

    References
    ----------
    .. [1] See :mod:`sizing.cable.rulesets` for titles and editions.
    """
    results = tuple(controller_result(system, each) for each in system.controllers)
    chosen = {each: _rows(replace(system, rule_set=each), results) for each in RuleSet}
    asked = replace(system, circuits=tuple(_unchosen(each) for each in system.circuits))
    proposed = {each: _rows(replace(asked, rule_set=each), results) for each in RuleSet}
    fuses = _string_fuses(system)
    return tuple(
        CircuitComparison(
            circuit_id=circuit.id,
            answers=tuple(
                _answer(rule_set, chosen[rule_set][index], proposed[rule_set][index][0])
                for rule_set in RuleSet
            ),
            device_limits=device_limits_compared(chosen[system.rule_set][index][0].size or ""),
            string_fuses=fuses if circuit_facts(circuit.kind).is_pv else (),
        )
        for index, circuit in enumerate(system.circuits)
    )


def _unchosen(circuit: CircuitInput) -> CircuitInput:
    """The same circuit with size and device left to the engine."""
    return replace(circuit, size=None, ocpd=None, has_no_ocpd=False)


def _rows(
    system: SystemInput, results: tuple[ControllerResult, ...]
) -> list[tuple[CircuitRow, Verdict, float | None, bool]]:
    rows, checks, _ = judge_circuits(system, results)
    found = []
    for row in rows:
        own = tuple(check for check in checks if check.subject == f"circuit:{row.id}")
        cap = next((check.limit for check in own if check.key.endswith("/ocpd_cable")), None)
        by_memory = any(not check.provenance.may_pass for check in own)
        found.append((row, worst(own), cap, by_memory))
    return found


def _answer(
    rule_set: RuleSet, chosen: tuple[CircuitRow, Verdict, float | None, bool], proposed: CircuitRow
) -> RuleSetAnswer:
    row, verdict, cap_a, by_memory = chosen
    return RuleSetAnswer(
        rule_set=rule_set,
        title=rule_set_title(rule_set),
        proposed_size=proposed.size_words,
        proposed_fuse_a=proposed.fuse_a,
        chosen_verdict=verdict,
        chosen_ampacity_a=row.ampacity_a,
        chosen_max_ocpd_a=cap_a,
        rests_on_memory=by_memory,
    )


def _string_fuses(system: SystemInput) -> tuple[StringFuse, ...]:
    """The most loaded strings of the design, by each standard."""
    worst_first = sorted(
        (
            (len(strings), wired.isc_a, wired.max_series_fuse_a)
            for controller in system.controllers
            for strings in (wired_strings(system, controller),)
            for wired in strings
        ),
        key=lambda each: -each[0] * each[1],
    )
    return string_fuse_methods(*worst_first[0]) if worst_first else ()
