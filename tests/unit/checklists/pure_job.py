"""Knows a job of any scope without a database: planned steps, and what is recorded at them, in order."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from checklists.plan.roles import roles_of
from checklists.plan.steps import planned_steps
from checklists.plan.traits import traits_of
from checklists.rules.entries import checked_value, spec_named
from checklists.rules.fields import specs_from_json
from checklists.rules.holds import Hold, Holds
from checklists.rules.install import DeviationInfo, Install, OverrideInfo, StepInfo
from checklists.rules.reducer import SAFETY, Event, reduce_events

#: Switches that occur together: what a job is made of.
PANELS = ("panels", "screwed")
FLEXIBLE = ("panels", "flexible")
BATTERY = ("battery",)
WHOLE = ("panels", "screwed", "battery", "inverter", "shore", "dc_dc")
RESEAL = ("reseal",)
AT = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)


def facts_of(scopes: Iterable[str]) -> dict[str, Any]:
    """Return planned values of a small job: two panels, a string, a controller, two batteries of 12.8 V."""
    on = set(scopes)
    panels = {str(n): {"title": f"panel {n}", "feet": 4, "holes": 4} for n in (1, 2)}
    circuits = {
        name: {"title": name, "run_len_m": 6.1, "size": "10", "cable_standard": "awg", "bundle_count": 2,
               "insulation": "105", "fuse_a": 30.0, "fuse_interrupting_a": 20000.0}
        for name in ("C2", "C3", "C4", "C6", "C8", "C11")
    }  # fmt: skip
    has_panels, has_bank, has_inverter = "panels" in on, "battery" in on, "inverter" in on
    protected = (["C2", "C3"] if has_panels else []) + (["C11"] if has_bank else [])
    return {
        "scopes": sorted(on), "v_nominal_v": 12.0, "vin_tail": "003456",
        "panel": panels if has_panels else {}, "fasteners_per_foot": 1,
        "gland": {"box": {"title": "gland box"}}, "gland_screws": int(has_panels), "cable_holes": 2,
        "material": "tpo", "feet_on_rafter": 0, "foot_test_n": 300.0, "blind_nut_tests": 2,
        "rafter_spacing_mm": 406.0,
        "string": {"1": {"title": "string 1", "fuse": "none",
                         "polarity_low_v": 34.0, "polarity_high_v": 56.0}},
        "controller": {"A": {"title": "controller A", "voc_cold_v": 56.0, "device_a": 20.0}},
        "ns": 2, "np": 1, "insulation": {"test_v": 250.0},
        "chemistry": "lfp", "battery_quantity": 2, "bank_ah": 200.0, "bank_location": "inside",
        "battery": {n: {"title": f"battery {n}", "rest_low_v": 12.0, "rest_high_v": 14.4} for n in "12"},
        "profiles": ["lfp", "custom"], "equalise": ["off"], "needs_low_t_stop": False,
        "bank_low_v": 11.6, "bank_high_v": 14.6, "cutoff_low_v": 10.0, "cutoff_high_v": 12.8,
        "tie_down_n": 250.0, "charge_limit_a": 100.0, "shore_high_a": 50.0,
        "load_low_w": 500.0, "load_high_w": 2300.0,
        "circuit": circuits, "choices": {"sizes": [["10", "10 AWG"], ["6", "6 AWG"]]},
        "source": {name: {"title": title, "absorb_v": 14.2, "absorb_low_v": 14.1, "absorb_high_v": 14.3}
                   for name, title in (("A", "controller A"), ("7", "charger"))},
        "joint": {name: {"title": name, "low": 9.6, "high": 10.7} for name in ("battery-1", "pv-A")},
        "equipment": [],
        "subjects": {
            "panel": list(panels) if has_panels else [], "gland": ["box"] if has_panels else [],
            "string": ["1"] if has_panels else [], "controller": ["A"] if has_panels else [],
            "battery": ["1", "2"] if has_bank else [], "joint": [],
            "dc_joint": ["battery-1"] if has_bank else [], "pv_joint": ["pv-A"] if has_panels else [],
            "source": (["A"] if has_panels else []) + (["7"] if has_bank else []),
            "dc_dc": ["7"] if "dc_dc" in on else [], "run": [],
            "roof_run": ["C2"] if has_panels else [],
            "inside_run": (["C3"] if has_panels else []) + (["C11"] if has_bank else []),
            "protected": protected, "main_fuse": ["C4"] if has_bank else [],
            "inverter_run": ["C6"] if has_inverter else [], "dc_dc_run": ["C8"] if "dc_dc" in on else [],
        },
    }  # fmt: skip


class PureJob:
    """One job on paper: what was recorded at its steps, and what that makes of its holds."""

    def __init__(self, scopes: Iterable[str], version: str = "2") -> None:
        self.facts, self.version = facts_of(scopes), version
        roles = roles_of(version)
        self.steps = tuple(
            StepInfo(
                pk=place,
                code=step.code,
                role=roles.of(step.code),
                phase_role=roles.phase_of(step.code),
                subject=step.subject,
                title=step.title,
                instruction=step.instruction,
                specs=specs_from_json(step.fields),
                card=tuple(step.card),
                is_hold=step.is_hold,
                needs_lead=step.needs_lead,
                is_in_scope=step.is_in_scope,
                can_be_overridden=step.can_be_overridden,
                position=place,
                traits=traits_of(version, frozenset(self.facts["scopes"]))[step.code],
            )
            for place, step in enumerate(planned_steps(self.facts, version), start=1)
        )
        self.phase_of = {step.pk: step.phase for step in self.steps}
        self.events: list[Event] = []
        self.overrides: list[OverrideInfo] = []
        self.deviations: list[DeviationInfo] = []
        self.judged: Mapping[tuple[int, str], Any] = {}

    @property
    def install(self) -> Install:
        """Return the job as it stands."""
        return Install(
            steps=self.steps,
            states=reduce_events(self.events),
            facts=self.facts,
            template=self.version,
            overrides=tuple(self.overrides),
            deviations=tuple(self.deviations),
            judged=self.judged,
        )

    @property
    def holds(self) -> Holds:
        """Return its holds."""
        return Holds(self.install)

    def step(self, role: str, subject: str = "") -> StepInfo:
        """Return a step by what it is for."""
        found = next((s for s in self.steps if (s.role, s.subject) == (role, subject)), None)
        assert found is not None, (role, subject)
        return found

    def hold(self, role: str) -> Hold:
        """Return a hold by what it is for."""
        return self.holds.of_step(next(s for s in self.steps if s.role == role and s.is_hold))

    def locks(self, role: str, subject: str = "") -> tuple[str, ...]:
        """Return why a step is locked."""
        return self.holds.locks(self.step(role, subject))

    def record(self, role: str, name: str, value: Any, subject: str = "", **more: Any) -> None:
        """Record one value as a device would: checked first, taking the place of what stands there."""
        install, step = self.install, self.step(role, subject)
        spec = spec_named(install.specs(step), name)
        assert spec is not None, (role, name)
        standing = install.state(step)[name].standing
        who, at = more.get("by_name", "Lena Test"), more.get("at", AT)
        if more.get("reads_safety", True):
            self.read_safety(step, who, at)
        self.events.append(
            Event(
                id=uuid.uuid4(),
                step=step.pk,
                verb="record",
                field=name,
                value=None if spec.is_photo else checked_value(spec, value),
                photo=uuid.uuid4() if spec.is_photo else None,
                replaces=frozenset() if spec.is_photo else frozenset(event.id for event in standing),
                by_name=who,
                by_role=more.get("by_role", "lead_technician"),
                received_at=at,
                done_at=at,
            )
        )

    def read_safety(self, step: StepInfo, who: str, at: dt.datetime) -> None:
        """Say that a person has read the safety lines of a step's phase today."""
        told = Event(id=uuid.uuid4(), step=step.pk, verb=SAFETY, value=f"{at:%Y-%m-%d}", by_name=who)
        same = (
            (each.by_name, each.value, self.phase_of[each.step])
            for each in self.events
            if each.verb == SAFETY
        )
        if (who, told.value, step.phase) not in set(same):
            self.events.append(told)
