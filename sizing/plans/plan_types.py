"""What a string plan is, why one is refused, and what the engine answers about all of them."""

from __future__ import annotations

from dataclasses import dataclass

from sizing.core.checks import Check, Verdict, worst
from sizing.core.inputs import StringInput
from sizing.core.results import ControllerResult


@dataclass(frozen=True, slots=True)
class Growth:
    """How a plan can take more panels later, on one controller."""

    controller_id: str
    step_panels: int  # panels to add at once so that the strings stay equal
    more_strings: int  # strings that still fit
    limit: str  # what is the limit then
    sentence: str


@dataclass(frozen=True, slots=True)
class StringPlan:
    """One way to wire the panels, judged. The lower ``rank_key`` the better."""

    label: str  # "2S2P", or "A: 2S2P · B: 3S1P"
    strings: tuple[StringInput, ...]
    controllers: tuple[ControllerResult, ...]
    checks: tuple[Check, ...]
    rank_key: tuple[float, ...]
    reasons: tuple[str, ...]  # what speaks for and against it, in the order of the ranking
    growth: tuple[Growth, ...]
    home_run_sizes: tuple[tuple[str, str], ...]  # circuit id and the smallest size that passes

    @property
    def verdict(self) -> Verdict:
        """Return the worst verdict of the plan's checks."""
        return worst(self.checks)

    @property
    def blocking(self) -> tuple[Check, ...]:
        """Return the checks that refuse the plan."""
        return tuple(check for check in self.checks if check.blocks)


@dataclass(frozen=True, slots=True)
class RefusedString:
    """A string that was not considered further, and why."""

    controller_id: str
    label: str  # "4 × P200 in series"
    reason: str


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """The best plans, at most three, and what became of the others."""

    plans: tuple[StringPlan, ...]
    feasible: int  # plans without a block
    tried: int
    is_complete: bool  # False: there were more groupings than were tried
    refused: tuple[RefusedString, ...]
    sentence: str
