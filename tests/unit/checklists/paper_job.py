"""Knows jobs on paper: a small one of any scope, without a database, with every value that would pass.

Counts are counted by hand: one panel on two feet of four screws, a gland box of eight, one cable hole.
"""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Iterator
from dataclasses import fields, replace
from types import SimpleNamespace
from typing import Any

from checklists.plan.roles import roles_of
from checklists.plan.steps import SUBJECTS, planned_steps
from checklists.plan.traits import traits_of
from checklists.rules.fields import FieldSpec, specs_from_json
from checklists.rules.install import Install, StepInfo
from checklists.rules.readings import judge_plain
from checklists.rules.reducer import Event, FieldState, StepState
from tests.unit.checklists.tablet_job import payload, to_state

VERSION = "2"
ROOFS = ((), ("panels",), ("panels", "screwed"), ("panels", "flexible"), ("panels", "screwed", "flexible"))
BANKS = (
    (),
    *(
        ("battery", *more)
        for count in range(4)
        for more in itertools.combinations(("inverter", "dc_dc", "shore"), count)
    ),
)
WHO, ROLE = "Alice Test", "owner"
#: Values that have to agree with one another, by field; the rest is taken from the middle of its band.
AGREED: dict[str, Any] = {
    "feet": 2, "fasteners_per_foot": 4, "foot": 4, "gland_screws": 8, "cable_holes": 1,
    "cable_holes_sealed": 1, "patched": 0, "licensed_name": "Ellen Test", "confirmed": "lead",
    "second_person": "Bob Test",
    "kind": "relay", "lowest_mohm": 2.0, "temp_air_c": 15.0,
}  # fmt: skip


def scopes() -> Iterator[frozenset[str]]:
    """Yield every set of switches that a job can have."""
    for roof, bank in itertools.product(ROOFS, BANKS):
        yield frozenset((*roof, *bank) or ("reseal",))


def facts(scope: frozenset[str]) -> dict[str, Any]:
    """Return the planned values of the job, with one of everything."""
    feet = 2 if "screwed" in scope else 0
    groups: dict[str, Any] = {group: {"1": {"title": "one"}} for _, group in SUBJECTS.values()}
    panel = {"title": "panel 1", "feet": feet, "fasteners_per_foot": 4, "holes": 4 * feet}
    return groups | {
        "scopes": sorted(scope),
        "v_nominal_v": 12,
        "subjects": {name: ["1"] for name in SUBJECTS} | {"gland": ["box"]},
        "choices": {"sizes": [["10", "10 AWG"]]},
        "insulation": {},
        "panel": {"1": panel},
        "gland": {"box": {"title": "gland box"}},
        "fasteners_per_foot": 4 if feet else 0,
        "gland_screws": 8,
        "cable_holes": 1,
        "profiles": ["lfp"],
        "equalise": ["off"],
    }


def job(scope: frozenset[str], version: str = VERSION) -> Install:
    """Return the job as it is opened: nothing recorded."""
    known, roles, traits = facts(scope), roles_of(version), traits_of(version, scope)
    steps = [
        StepInfo(
            pk=pk, code=row.code, role=roles.of(row.code), phase_role=roles.phase_of(row.code),
            subject=row.subject, title=row.title, instruction=row.instruction,
            specs=specs_from_json(row.fields), is_hold=row.is_hold, needs_lead=row.needs_lead,
            is_in_scope=row.is_in_scope, can_be_overridden=row.can_be_overridden, position=pk,
            traits=traits[row.code],
        )
        for pk, row in enumerate(planned_steps(known, version), start=1)
    ]  # fmt: skip
    return Install(steps=tuple(steps), states={}, facts=known, template=version, signed_parts=SIGNED)


SIGNED = frozenset({"technician", "licensed", "owner", "customer"})


def with_done(install: Install, steps: Iterator[StepInfo] | list[StepInfo]) -> Install:
    """Return the job with these steps done too, by somebody who has read the lines and may do anything."""
    return with_states(install, {**install.states, **{step.pk: done(install, step) for step in steps}})


def with_states(install: Install, states: dict[int, StepState]) -> Install:
    """Return the job with other things recorded, judged as far as no sums are needed."""
    found = replace(install, states=states)
    return replace(found, judged=judge_plain(found))


def on_tablet(install: Install) -> dict[str, Any]:
    """Return the job as a tablet takes it along, and each of its steps as it is when it is done."""
    rows = [
        SimpleNamespace(pk=pk, since_design=0, phase=row.phase, **_plain(row))
        for pk, row in enumerate(planned_steps(install.facts, install.template), start=1)
    ]
    states = {step.pk: done(install, step) for step in install.in_scope}
    return {"job": payload(rows, install, {}) | {"sums": None}, "done": dict(to_state(states))}


def _plain(row: Any) -> dict[str, Any]:
    return {each.name: getattr(row, each.name) for each in fields(row)}


def done(install: Install, step: StepInfo) -> StepState:
    """Return a step with a value that passes at every field that asks for one."""
    found = {
        spec.name: FieldState(tuple(_events(step, spec)))
        for spec in install.specs(step)
        if not spec.name.startswith("not_here")
    }
    ack = Event(_id(step, "safety"), step.pk, "safety", value="2026-11-25", by_name=WHO, by_role=ROLE)
    return StepState(fields=found, acks=(ack,))


def _events(step: StepInfo, spec: FieldSpec) -> Iterator[Event]:
    for number in range(spec.count if spec.is_photo else 1):
        name = f"{spec.name} {number}"
        photo = _id(step, f"photo {name}") if spec.is_photo else None
        value = None if spec.is_photo else _good(step, spec)
        yield Event(_id(step, name), step.pk, "record", spec.name, value, photo, by_name=WHO, by_role=ROLE)


def _id(step: StepInfo, name: str) -> uuid.UUID:
    return uuid.uuid5(uuid.NAMESPACE_OID, f"{step.pk} {name}")


def _good(step: StepInfo, spec: FieldSpec) -> Any:
    """Return a value that passes."""
    if spec.name == "holes":
        return 8  # two feet of four screws, or a gland box of eight
    agreed = AGREED.get("foot" if spec.name.startswith("foot_") else spec.name)
    if agreed is not None and (not spec.choices or agreed in dict(spec.choices)):
        return agreed
    if spec.kind == "number":
        return _number(spec)
    if spec.kind == "choice":
        accepted = [value for value, _ in spec.choices if not spec.accept or value in spec.accept]
        return spec.expected if spec.expected in accepted else accepted[0]
    if spec.kind in {"lines", "several"}:
        return ",".join(key for key, _ in spec.lines) or "none"
    return {"tick": True, "signature": {"name": "Pat Test", "ink": ""}, "serial": f"SN {step.pk}"}.get(
        spec.kind, {"date": "2027-03-31", "month": "2099-03"}.get(spec.format, spec.expected or "one")
    )


def _number(spec: FieldSpec) -> float:
    low = spec.low if spec.low is not None else spec.min or 0.0
    high = spec.high if spec.high is not None else low + 2.0
    value = spec.expected if isinstance(spec.expected, int | float) else (low + high) / 2
    return round(value) if spec.whole else float(value)
