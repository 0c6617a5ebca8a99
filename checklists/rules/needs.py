"""Works out which steps must be through before another may begin, and what each hold looks at. Pure.

The templates say it in two ways. The first version by its phases: a phase needs the hold before it, and from
the check before switching on every hold before it. Later ones by the step: each says what it ``opens``, and
a ``live`` step needs every hold before the first phase in which something is switched on.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from checklists.plan.roles import PhaseRole, Role, roles_of
from checklists.plan.templates import templates
from checklists.rules.install import StepInfo

#: In the first version: from this phase on every earlier hold must have passed.
_ENERGISE: Final = PhaseRole.BEFORE_ENERGISING
#: In later versions: the first phase in which something is switched on.
_LIVE: Final = PhaseRole.BATTERY_ON


@dataclass(frozen=True, slots=True)
class Needs:
    """What a step waits for; what is strict is not gone round while a change order waits."""

    steps: tuple[StepInfo, ...] = ()
    is_strict: bool = False


@functools.lru_cache(maxsize=32)
def needs_of(steps: tuple[StepInfo, ...], template: str) -> Mapping[int, Needs]:
    """Return what each step in scope waits for, by its key; the steps come in their order."""
    asked = [step for step in steps if step.is_in_scope]
    letters = roles_of(template).letters
    if templates(template).get("phase_gates"):
        return dict(_by_phases(asked, letters[_ENERGISE]))
    return dict(_by_steps(asked, letters[_LIVE]))


@functools.lru_cache(maxsize=32)
def asks_of(steps: tuple[StepInfo, ...], template: str) -> Mapping[int, tuple[StepInfo, ...]]:
    """Return the steps each hold in scope looks at, by the key of the hold, in their order.

    A hold looks at the steps of its phase after the hold before it, itself included. What no hold of its own
    phase looks at is looked at by the go, or, in a job without one, by the next hold.
    """
    asked = [step for step in steps if step.is_in_scope]
    holds = [step for step in asked if step.is_hold]
    found: dict[int, list[StepInfo]] = {hold.pk: [] for hold in holds}
    order = {step.pk: place for place, step in enumerate(asked)}
    go = next((hold for hold in holds if hold.role == Role.GO), None)
    is_go_only = bool(templates(template).get("phase_gates"))
    for place, step in enumerate(asked):
        later = [hold for hold in holds if order[hold.pk] >= place]
        own = next((hold for hold in later if hold.phase == step.phase), None)
        if own is None and go in later:
            own = go
        elif own is None and later and not is_go_only:
            own = later[0]
        if own is not None:
            found[own.pk].append(step)
    return {pk: tuple(rows) for pk, rows in found.items()}


def _by_phases(steps: list[StepInfo], energise: str) -> Iterator[tuple[int, Needs]]:
    first: dict[str, StepInfo] = {}
    for step in steps:
        if step.is_hold:
            first.setdefault(step.phase, step)
    for step in steps:
        before = tuple(hold for letter, hold in first.items() if letter < step.phase)
        is_strict = step.phase >= energise
        yield step.pk, Needs(before if is_strict else before[-1:], is_strict)


def _by_steps(steps: list[StepInfo], live: str) -> Iterator[tuple[int, Needs]]:
    openers = _openers(steps)
    order = {step.pk: place for place, step in enumerate(steps)}
    holds = [step for step in steps if step.is_hold]
    for step in steps:
        found = [
            opener
            for target in (str(step.phase_role), step.role)
            for opener in openers.get(target, ())
            if opener.code != step.code
        ]
        if step.traits.is_live:
            found += [hold for hold in holds if hold.phase < live and hold.code != step.code]
        unique = sorted({each.pk: each for each in found}.values(), key=lambda each: order[each.pk])
        yield step.pk, Needs(tuple(unique), step.traits.is_live)


def _openers(steps: list[StepInfo]) -> Mapping[str, list[StepInfo]]:
    """Return by role what opens it: the hold of a code, or every row of a code without a hold."""
    holds = {step.code for step in steps if step.is_hold}
    found: dict[str, list[StepInfo]] = {}
    for step in steps:
        if step.is_hold or step.code not in holds:
            for target in step.traits.opens:
                found.setdefault(target, []).append(step)
    return found
