"""Reads the records of one install into the plain facts its holds and pages are worked out from."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any
from uuid import UUID

from django.db.models import TextField
from django.db.models.functions import Cast

import sizing
from checklists.models import Checklist, Deviation, HoldOverride, Step, StepEvent
from checklists.plan.roles import Role, StepRoles, roles_of
from checklists.plan.traits import Traits, traits_of
from checklists.record.kept import Seen, seen_of
from checklists.rules.cautions import CircuitCaution, circuit_cautions
from checklists.rules.fields import CAUTION, FieldSpec, specs_from_json
from checklists.rules.holds import Holds
from checklists.rules.install import DeviationInfo, Install, OverrideInfo, StepInfo, WaitingChange
from checklists.rules.readings import alike_checks, judge_readings
from checklists.rules.reducer import Event
from checklists.rules.work_order import Placed, places
from jobs.engine.stored import latest_run, result_of
from jobs.engine.system import question_of
from jobs.models import ChangeOrder, SizingRun


@dataclass
class SizedSystem:
    """The sizing run an install rests on; unpacked when something asks for them."""

    run: SizingRun

    @cached_property
    def system(self) -> sizing.SystemInput:
        """Return the system as built so far."""
        return question_of(self.run)

    @cached_property
    def result(self) -> sizing.SystemResult:
        """Return the sizing of the system as built so far."""
        return result_of(self.run)


@dataclass
class Work:
    """One checklist read once: install, holds, and the sizing run it rests on."""

    checklist: Checklist
    install: Install
    sized: SizedSystem
    seen: Seen
    steps: dict[int, Step]
    deviations: tuple[Deviation, ...]
    change_orders: tuple[ChangeOrder, ...]
    overrides: tuple[HoldOverride, ...]

    @cached_property
    def holds(self) -> Holds:
        """Return the holds and locks."""
        return Holds(self.install)

    @property
    def events(self) -> tuple[StepEvent, ...]:
        """Return every event of a step; of a long job they are read when something asks for them."""
        return self.seen.events

    @property
    def run(self) -> SizingRun:
        """Return the stored sizing run."""
        return self.sized.run

    @property
    def system(self) -> sizing.SystemInput:
        """Return the system as built so far."""
        return self.sized.system

    @property
    def result(self) -> sizing.SystemResult:
        """Return the sizing of the system as built so far."""
        return self.sized.result


def work_of(
    checklist: Checklist,
    *,
    signed_parts: Iterable[str] = (),
    before: Work | None = None,
    whole: bool = False,
) -> Work:
    """Return a checklist read once, with everything the holds ask for; ``whole`` believes nothing kept.

    ``before`` is the same checklist as it was read earlier: what never changes (its steps, the events it had;
    its sizing run, unless there is a newer one) is not read again.
    """
    if before and before.checklist.design_id != checklist.design_id:
        before = None  # a change of plan came between: it writes steps anew
    steps = before.steps if before else {step.pk: step for step in _steps_as_text(checklist)}
    seen = seen_of(checklist, event_of, before.seen if before else None, whole=whole)
    overrides = tuple(HoldOverride.objects.filter(step__checklist=checklist))
    deviations = tuple(checklist.deviations.all())
    change_orders = tuple(ChangeOrder.objects.filter(job=checklist.job_id))
    install = Install(
        steps=before.install.steps if before else _step_infos(checklist, steps.values()),
        states=seen.kept.states,
        facts=checklist.facts,
        template=checklist.template_version,
        overrides=tuple(override_info(row) for row in overrides),
        deviations=tuple(deviation_info(row) for row in deviations),
        waiting_changes=tuple(
            change_info(row) for row in change_orders if row.is_waiting and row.locked_phases
        ),
        signed_parts=frozenset(signed_parts),
        extra={Role.GO: (f"Values as built: {checklist.as_built_problem}",)}
        if checklist.as_built_problem
        else {},
        time_zone=checklist.job.shop.time_zone,
    )
    install = replace(install, order=_order(install, seen))
    run = latest_run(checklist.design, SizingRun.Purpose.AS_BUILT) or checklist.run
    work = Work(
        checklist=checklist,
        install=install,
        sized=before.sized if before and before.run.pk == run.pk else SizedSystem(run),
        seen=seen,
        steps=steps,
        deviations=deviations,
        change_orders=change_orders,
        overrides=overrides,
    )
    cautions = tuple((each.name, each.words) for each in cautions_of(install, run))
    work.install = with_readings(replace(install, circuit_cautions=cautions), work.sized)
    return work


def _order(install: Install, seen: Seen) -> Mapping[UUID, int]:
    """Return the order of the work; only a Go that was given asks for it."""
    if not any(install.whole_state(step).fields for step in install.of_role(Role.GO)):
        return {}
    if seen.order is None:
        seen.order = places(placed_of(seen))
    return seen.order


def placed_of(seen: Seen) -> tuple[Placed, ...]:
    """Return the events with what their places in the work are known by; read once."""
    if seen.placed is None:
        seen.placed = tuple(placed(row) for row in seen.events)
    return seen.placed


def cautions_of(install: Install, run: SizingRun) -> list[CircuitCaution]:
    """Return the circuits the go accepts by name; none where the job's list of steps does not ask so."""
    if not any(spec.repeat == CAUTION for step in install.of_role(Role.GO) for spec in step.specs):
        return []
    return circuit_cautions(run.result["checks"])


def with_readings(install: Install, sized: SizedSystem) -> Install:
    """Return the install with the readings judged; the run is only unpacked when there is one to judge."""
    if not any(install.state(step).fields for step in install.in_scope for spec in step.specs if spec.judge):
        return install
    alike = tuple(
        check.sentence
        for check in alike_checks(install, sized.system)
        if check.verdict is sizing.Verdict.BLOCK
    )
    return replace(
        install,
        judged=judge_readings(install, sized.system, sized.result),
        extra={**install.extra, Role.READINGS_PASS: alike},
    )


def _step_infos(checklist: Checklist, steps: Iterable[Step]) -> tuple[StepInfo, ...]:
    """Return the stored steps with the roles they have in the template the job was made from."""
    roles = roles_of(checklist.template_version)
    traits = traits_of(checklist.template_version, frozenset(checklist.scope))
    return tuple(_step_info(step, roles, traits[step.code]) for step in steps)


def _step_info(step: Any, roles: StepRoles, traits: Traits) -> StepInfo:
    """Return a step that came as text as the pure modules read it."""
    return StepInfo(
        pk=step.pk,
        code=step.code,
        role=roles.of(step.code),
        phase_role=roles.phase_of(step.code),
        subject=step.subject,
        title=step.title,
        instruction=step.instruction,
        specs=_specs(step.fields_text),
        card=_card(step.card_text),
        is_hold=step.is_hold,
        needs_lead=step.needs_lead,
        is_in_scope=step.is_in_scope,
        can_be_overridden=step.can_be_overridden,
        position=step.position,
        since_design=step.since_design,
        traits=traits,
    )


def _steps_as_text(checklist: Checklist) -> Iterable[Step]:
    """Return the steps with their fields and cards as stored text: most are asked for again and again."""
    texts = {f"{name}_text": Cast(name, TextField()) for name in ("fields", "card")}
    return checklist.steps.annotate(**texts).defer("fields", "card", "re_runs")


@lru_cache(maxsize=4096)
def _specs(text: str) -> tuple[FieldSpec, ...]:
    return specs_from_json(json.loads(text))


@lru_cache(maxsize=4096)
def _card(text: str) -> tuple[Mapping[str, str], ...]:
    return tuple(json.loads(text))


def event_of(row: StepEvent) -> Event:
    """Return a stored event as the reducer reads it."""
    return Event(
        id=row.pk,
        step=row.step_id or 0,
        verb=row.verb,
        field=row.field,
        value=row.value,
        photo=row.photo_id,
        undoes=row.undoes,
        replaces=frozenset(_uuids(row.replaces)),
        cause=row.cause,
        by_name=row.by_name,
        by_role=row.by_role,
        design_number=row.design_number,
        received_at=row.received_at,
        done_at=row.done_at,
    )


def placed(row: StepEvent) -> Placed:
    """Return a stored event with what its place in the work is known by."""
    return Placed(
        event=event_of(row),
        source="" if row.sent_from_id is None else str(row.sent_from_id),
        claimed_at=row.claimed_at,
        done_at=row.done_at,
        received_at=row.received_at,
        serial=row.serial,
        sequence=row.sequence,
    )


def _uuids(names: Iterable[Any]) -> Iterable[Any]:
    return (UUID(str(name)) for name in names)


def override_info(row: HoldOverride) -> OverrideInfo:
    """Return a stored override as the holds read it."""
    return OverrideInfo(row.step_id, row.by_name, row.reason, frozenset(row.covers))


def deviation_info(row: Deviation) -> DeviationInfo:
    """Return a stored deviation as the holds read it."""
    return DeviationInfo(
        pk=row.pk,
        step=row.step_id,
        title=row.title,
        sentence=row.sentence,
        blocks=row.blocks,
        state=row.state,
        can_be_accepted=row.can_be_accepted,
    )


def change_info(row: ChangeOrder) -> WaitingChange:
    """Return a change order as the locks read it while it waits."""
    return WaitingChange(row.number, tuple(row.locked_phases))
