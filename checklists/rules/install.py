"""One install as a whole: its steps, what stands at them, and what was counted on the roof. Pure."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from checklists.plan.roles import Role
from checklists.plan.templates import aliases, templates
from checklists.rules.after_go import Change, changes_after, stale_at_go, without
from checklists.rules.fields import FieldSpec, expanded
from checklists.rules.judging import Asks, Judged, StepMark, judge_step
from checklists.rules.reducer import EMPTY, StepState
from checklists.rules.step_info import StepInfo as StepInfo  # asked for here, with what is made of it


@dataclass(frozen=True, slots=True)
class OverrideInfo:
    """An owner's override of a hold."""

    step: int
    by_name: str
    reason: str
    covers: frozenset[str]


@dataclass(frozen=True, slots=True)
class DeviationInfo:
    """A deviation, as far as holds ask about it."""

    pk: int
    step: int | None
    title: str
    sentence: str
    blocks: bool
    state: str
    can_be_accepted: bool


@dataclass(frozen=True, slots=True)
class WaitingChange:
    """A change order that waits for the customer, with the phases it locks."""

    number: int
    locked_phases: tuple[str, ...]


@dataclass
class Install:
    """Everything the holds and pages of one job are worked out from."""

    steps: tuple[StepInfo, ...]
    states: Mapping[int, StepState]
    facts: Mapping[str, Any]
    template: str
    overrides: tuple[OverrideInfo, ...] = ()
    deviations: tuple[DeviationInfo, ...] = ()
    waiting_changes: tuple[WaitingChange, ...] = ()
    signed_parts: frozenset[str] = frozenset()
    judged: Mapping[tuple[int, str], Judged] = field(default_factory=dict)
    circuit_cautions: tuple[tuple[str, str], ...] = ()  # name and words of each, for the go to accept
    extra: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # by role of the hold it keeps shut
    order: Mapping[UUID, int] = field(default_factory=dict)  # the place of each event in the work
    time_zone: str = "UTC"

    @functools.cached_property
    def in_scope(self) -> tuple[StepInfo, ...]:
        """Return the steps that belong to this job, in order."""
        return tuple(step for step in self.steps if step.is_in_scope)

    @functools.cached_property
    def _by_role(self) -> Mapping[tuple[str, str], StepInfo]:
        return {(step.role, step.subject): step for step in self.steps}

    @functools.cached_property
    def _aliases(self) -> Mapping[str, str]:
        return aliases(self.template)

    def step(self, role: str, subject: str = "") -> StepInfo | None:
        """Return the step of a role and subject; None when the job has none."""
        return self._by_role.get((self._aliases.get(role, role), subject))

    def of_phase(self, letter: str) -> tuple[StepInfo, ...]:
        """Return the steps of a phase that are in scope."""
        return tuple(step for step in self.in_scope if step.phase == letter)

    def of_role(self, role: str) -> tuple[StepInfo, ...]:
        """Return the steps in scope that share a role (one per panel, string …)."""
        own = self._aliases.get(role, role)
        return tuple(step for step in self.in_scope if step.role == own)

    def code_of(self, role: str) -> str:
        """Return the code printed for a role, as people know the step."""
        own = self._aliases.get(role, role)
        return next((step.code for step in self.steps if step.role == own), "")

    def state(self, step: StepInfo) -> StepState:
        """Return what stands at a step, of what was recorded on the plan it is asked by.

        A Go that was given before its wiring was recorded again does not stand.
        """
        own = self._on_plan(step)
        return without(own, self._stale) if step.role == Role.GO and self._stale else own

    def _on_plan(self, step: StepInfo) -> StepState:
        whole = self.whole_state(step)
        return whole.since(step.since_design) if step.since_design else whole

    @functools.cached_property
    def rewired(self) -> tuple[Change, ...]:
        """Return what was recorded again after the Go that was given for it."""
        return changes_after(self.steps, self._planned_states, self.order) if self.order else ()

    @functools.cached_property
    def _stale(self) -> frozenset[UUID]:
        return stale_at_go(self.steps, self._planned_states, self.order) if self.order else frozenset()

    @functools.cached_property
    def _planned_states(self) -> Mapping[int, StepState]:
        return {step.pk: self._on_plan(step) for step in self.in_scope}

    def whole_state(self, step: StepInfo) -> StepState:
        """Return what stands at a step, what was recorded on a plan since changed included."""
        return self.states.get(step.pk, EMPTY)

    def outdated(self, step: StepInfo) -> Mapping[str, int]:
        """Return the fields where only a value of an earlier revision stands, with that revision."""
        if not step.since_design:
            return {}
        now = self.state(step)
        return {
            name: max(event.design_number for event in own.standing)
            for name, own in self.whole_state(step).fields.items()
            if own.standing and not now[name].standing
        }

    def is_reopened(self, step: StepInfo) -> bool:
        """Return whether a change of plan asks for this step again."""
        return bool(self.outdated(step)) and not self.mark(step).is_done

    @property
    def safety_is_ticked(self) -> bool:
        """Return whether reading the safety lines is a tick among the fields, as in the first version."""
        return bool(templates(self.template).get("safety_ticks"))

    def must_read(self, step: StepInfo, name: str, day: str) -> bool:
        """Return whether a person has still to read the safety lines before recording here on this day."""
        is_asked = step.is_in_scope and step.traits.safety and not self.safety_is_ticked
        return bool(is_asked) and not self.has_read(step.phase, name, day)

    def has_read(self, letter: str, name: str, day: str = "") -> bool:
        """Return whether a person has read the safety lines of a phase, on a day (``2026-11-30``) or ever."""
        own = name.strip().casefold()
        return any(
            event.by_name.strip().casefold() == own and day in ("", event.value)
            for step in self.of_phase(letter)
            for event in self.whole_state(step).acks
        )

    def value(self, role: str, name: str, subject: str = "") -> Any:
        """Return the value that stands at a field, or None; asked for in the words of the newest steps."""
        own = self._aliases.get(f"{role}.{name}")
        if own is not None:
            role, _, name = own.partition(".")
            subject, name = ("", name[:-1]) if name.endswith("@") else (subject, name)
        step = self.step(role, subject)
        return None if step is None else self.state(step)[name].value

    def specs(self, step: StepInfo) -> tuple[FieldSpec, ...]:
        """Return the fields of a step as they are asked now: one per foot as fitted."""
        feet = self.fitted.feet.get(step.subject_name)
        cautions = self.circuit_cautions
        return expanded(step.specs, feet=feet, tick=self._tick(step), cautions=cautions)

    def _tick(self, step: StepInfo) -> float | None:
        if step.role not in {Role.SEAL_UNDER, Role.SEAL_OVER}:
            return None
        return float(
            self.fitted.gland_screws if step.subject == "gland:box" else self.fitted.fasteners_per_foot
        )

    def mark(self, step: StepInfo) -> StepMark:
        """Return what is there, missing, out of band or disputed at a step."""
        if step.pk not in self._marks:
            judged = {name: found for (pk, name), found in self.judged.items() if pk == step.pk}
            self._marks[step.pk] = judge_step(
                self.specs(step),
                self.state(step),
                asks=self._asks(step),
                judged=judged,
                outdated=self.outdated(step),
            )
        return self._marks[step.pk]

    def _asks(self, step: StepInfo) -> Asks:
        """Return from whom a step counts."""
        return Asks(
            lead=step.needs_lead,
            lead_to_leave_out=step.traits.na_needs_lead,
            licensed=self._licensed[0] if step.traits.is_licensed else None,
            licensed_by_lead=self._licensed[1],
        )

    @functools.cached_property
    def _licensed(self) -> tuple[str, bool]:
        """Return the name of the licensed person, and whether a lead records for them."""
        name, how = (self.value(Role.LICENSED_PERSON, field) for field in ("licensed_name", "confirmed"))
        return str(name or ""), how == "lead"

    def take_marks(self, other: Install) -> None:
        """Take over the marks of the same job at another moment, where nothing they rest on differs."""
        if self.facts is not other.facts or self.judged != other.judged:
            return
        if self.fitted != other.fitted or self._licensed != other._licensed:
            return
        mine = {step.pk for step in self.steps if step.role != Role.GO}  # the Go rests on other steps too
        for pk, mark in other._marks.items():
            same = self.states.get(pk, EMPTY) is other.states.get(pk, EMPTY)
            if same and pk in mine:
                self._marks[pk] = mark

    @functools.cached_property
    def _marks(self) -> dict[int, StepMark]:
        return {}

    @functools.cached_property
    def fitted(self) -> Fitted:
        """Return the feet, screws and holes as built; planned where nothing was counted yet."""
        return fitted(self)


@dataclass(frozen=True, slots=True)
class Fitted:
    """What was set on the roof: counts as built, planned where not counted yet."""

    feet: Mapping[str, int]
    drilled: Mapping[str, int]
    fasteners_per_foot: int
    gland_screws: int
    cable_holes: int

    @property
    def foot_fasteners(self) -> int:
        """Return the screws in all feet."""
        return sum(self.feet.values()) * self.fasteners_per_foot

    @property
    def penetrations(self) -> int:
        """Return the holes that must be sealed under and over."""
        return self.foot_fasteners + self.gland_screws

    @property
    def unused_holes(self) -> int:
        """Return the holes that were drilled and carry no screw: to be patched, never just left out."""
        return sum(
            max(0, drilled - self.feet.get(panel, 0) * self.fasteners_per_foot)
            for panel, drilled in self.drilled.items()
        )


def fitted(install: Install) -> Fitted:
    """Return the feet, screws and holes as built."""
    facts = install.facts
    panels: Mapping[str, Mapping[str, Any]] = facts.get("panel", {})
    return Fitted(
        feet={
            name: _count(install.value(Role.FEET, "feet", f"panel:{name}"), found["feet"])
            for name, found in panels.items()
        },
        drilled=dict(_drilled(install, panels)),
        fasteners_per_foot=_count(
            install.value(Role.SEAL_UNDER, "fasteners_per_foot"), facts.get("fasteners_per_foot", 0)
        ),
        gland_screws=_count(
            install.value(Role.SEAL_UNDER, "gland_screws", "gland:box"), facts.get("gland_screws", 0)
        ),
        cable_holes=_count(install.value(Role.CABLE_ENTRY, "cable_holes"), facts.get("cable_holes", 0)),
    )


def _drilled(install: Install, panels: Iterable[str]) -> Iterator[tuple[str, int]]:
    """Yield the holes known to have been drilled: as counted, and no fewer than were ever sealed."""
    for name in panels:
        counted = install.value(Role.FEET, "holes", f"panel:{name}")
        step = install.step(Role.SEAL_UNDER, f"panel:{name}")
        feet = install.state(step).fields if step else {}
        sealed = sum(
            int(found.value) for key, found in feet.items() if key.startswith("foot_") and found.value
        )
        if counted is not None or sealed:
            yield name, max(int(counted or 0), sealed)


def _count(value: Any, planned: int) -> int:
    return planned if value is None else int(value)
