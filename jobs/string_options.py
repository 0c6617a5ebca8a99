"""Knows in which ways a controller's panels can be wired, and asks the sizing face what each would mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import sizing
from jobs import sizing_bridge
from jobs.as_built import rewired
from jobs.models import Design
from jobs.services.refusals import Refusal

#: Show at most this many ways; a longer list helps nobody choose.
MOST_OPTIONS: Final = 3
#: Above this the panels' leads ask for extra care; 60 V DC is the limit of safety extra-low voltage in
#: IEC 60364-4-41 (from memory).
EXTRA_CARE_V: Final = 60.0


#: Judgements on a controller that do not change with its strings.
_NOT_OF_WIRING: Final = frozenset({"profile", "equalise", "cold_charge"})


@dataclass(frozen=True, slots=True)
class StringOption:
    """One way to wire the panels, with what speaks for and against it."""

    controller: str
    ns: int
    np: int
    result: sizing.ControllerResult
    drop_fraction: float | None
    against: tuple[sizing.Check, ...]
    is_now: bool

    @property
    def words(self) -> str:
        """Return the plan in trade words: 2S2P."""
        return f"{self.ns}S{self.np}P"

    @property
    def verdict(self) -> sizing.Verdict:
        """Return the worst of what speaks against it; pass when nothing does."""
        return sizing.worst(self.against) if self.against else sizing.Verdict.PASS

    @property
    def needs_care(self) -> bool:
        """Return whether the cold volts pass 60 V."""
        return (self.result.voc_cold_v or 0.0) > EXTRA_CARE_V

    @property
    def rank(self) -> tuple[float, ...]:
        """Return the order of choice: no block, nothing unknown, few cautions, no fuses, little drop."""
        severities = [check.verdict.severity for check in self.against]
        return (
            float(max(severities, default=0)),
            float(len(severities)),
            float(self.np > 2),
            self.drop_fraction if self.drop_fraction is not None else 1.0,
            float(self.np),
        )


def string_options(design: Design) -> list[StringOption]:
    """Return the ways to wire the panels of the first controller, best first, at most three.

    Empty when there is no controller, no panel, or the design cannot be put to the sizing face.
    """
    try:
        now = sizing_bridge.system_input(design)
    except Refusal:
        return []
    if not now.controllers:
        return []
    label = now.controllers[0].id
    mine = [string for string in now.strings if string.controller_id == label]
    loose = [panel.id for panel in now.panels if panel.string_id is None]
    count = sum(len(string.panel_ids) for string in mine) + len(loose)
    if not count:
        return []
    lengths = {len(string.panel_ids) for string in mine}
    planned_ns = lengths.pop() if len(lengths) == 1 and not loose else None
    options = [
        option
        for ns in range(1, count + 1)
        if count % ns == 0
        for option in _asked(now, label, ns, count, is_now=ns == planned_ns)
    ]
    return sorted(options, key=lambda option: option.rank)[:MOST_OPTIONS]


def _asked(
    now: sizing.SystemInput, label: str, ns: int, count: int, *, is_now: bool
) -> tuple[StringOption, ...]:
    """Return the option as the sizing face judges it; nothing when the question cannot be asked."""
    try:
        system = rewired(now, label, ns)
        answer = sizing.size_system(system)
    except (sizing.InputOutOfRange, Refusal):
        return ()
    own = {
        f"controller:{label}",
        *(f"string:{one.id}" for one in system.strings if one.controller_id == label),
    }
    leads = {one.id for one in system.circuits if one.kind in {"C1", "C2"} and _leads_to(one, label, system)}
    against = tuple(
        check
        for check in answer.checks
        if check.verdict is not sizing.Verdict.PASS
        and check.key.rpartition("/")[2] not in _NOT_OF_WIRING
        and (check.subject in own or check.subject.removeprefix("circuit:") in leads)
    )
    result = next(one for one in answer.controllers if one.id == label)
    drops = [
        row.drop_fraction for row in answer.circuits if row.id in leads and row.drop_fraction is not None
    ]
    option = StringOption(
        controller=label,
        ns=ns,
        np=count // ns,
        result=result,
        drop_fraction=sum(drops) if drops else None,
        against=against,
        is_now=is_now,
    )
    return (option,)


def _leads_to(circuit: sizing.CircuitInput, label: str, system: sizing.SystemInput) -> bool:
    return circuit.serves == f"controller:{label}" or (not circuit.serves and len(system.controllers) == 1)
