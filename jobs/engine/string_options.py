"""Ranks the ways to wire a design's panels, beside the way they are wired now."""

from __future__ import annotations

from dataclasses import dataclass, replace

import sizing
from jobs.engine.system import question_of
from jobs.models import SizingRun

Groups = frozenset[tuple[str, frozenset[str]]]


@dataclass(frozen=True, slots=True)
class Option:
    """One plan with what sets it apart from the first choice."""

    plan: sizing.StringPlan
    differences: tuple[str, ...]
    is_now: bool

    @property
    def rows(self) -> list[dict[str, object]]:
        """Return the plan as the rows the service wires."""
        return [
            {"panels": [int(name) for name in string.panel_ids], "controller": string.controller_id}
            for string in self.plan.strings
        ]


@dataclass(frozen=True, slots=True)
class Options:
    """The plans that work, at most three, what was refused and why, and the plan as it is now."""

    plans: tuple[Option, ...]
    refused: tuple[sizing.RefusedString, ...]
    sentence: str
    now: sizing.StringPlan | None

    def labelled(self, label: str) -> Option | None:
        """Return the plan of this name, None when it is no longer among them."""
        return next((option for option in self.plans if option.plan.label == label), None)


def string_options(run: SizingRun | None, reason: str = "") -> Options:
    """Return the ways to wire a design, asked of the question that was stored; none, and why, without one."""
    if run is None:
        return Options(
            plans=(), refused=(), sentence=reason or "The design has not been sized yet.", now=None
        )
    system = question_of(run)
    bare = unwired(system)
    answer = sizing.string_plans(bare)
    now = sizing.plan_for(bare, system.strings) if system.strings else None
    wired = string_groups(system.strings)
    plans = tuple(
        Option(
            plan=plan,
            differences=sizing.plan_differences(answer.plans[0], plan),
            is_now=string_groups(plan.strings) == wired,
        )
        for plan in answer.plans
    )
    return Options(plans=plans, refused=answer.refused, sentence=answer.sentence, now=now)


def unwired(system: sizing.SystemInput) -> sizing.SystemInput:
    """Return the question without its strings, for the planner to fill."""
    return replace(
        system,
        panels=tuple(replace(panel, string_id=None) for panel in system.panels),
        circuits=tuple(
            replace(one, serves="") if one.serves.startswith("string:") else one for one in system.circuits
        ),
    )


def string_groups(strings: tuple[sizing.StringInput, ...]) -> Groups:
    """Return which panels stand together on which controller, whatever their order."""
    return frozenset((string.controller_id, frozenset(string.panel_ids)) for string in strings)
