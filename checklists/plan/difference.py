"""Finds the steps a later revision asks anew: those whose part or planned value it changed. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from checklists.plan.roles import PhaseRole, Role, StepRoles, roles_of
from checklists.plan.steps import PlannedStep, planned_steps

Key = tuple[str, str]
Redone = tuple[tuple[Role, str], ...]

#: A changed part → the steps whose work it undoes, each by its role and subject; ``{id}`` is the part's
#: letter, number or label.
_CONTROLLER: Final[Redone] = (
    (Role.STRINGS_BUILT, ""),
    (Role.PV_SWITCH, "controller:{id}"),
    (Role.CONTROLLER_MOUNTED, "controller:{id}"),
    (Role.TORQUE, "joint:controller-{id}"),
    (Role.CHARGER_SETTINGS, "source:{id}"),
    (Role.CHARGE_SUM, ""),
    (Role.FIRST_CHARGE, "controller:{id}"),
    (Role.CHARGE_STAGES, ""),
    (Role.DROP_UNDER_SUN, "controller:{id}"),
    (Role.PV_GEAR, "controller:{id}"),
    (Role.TORQUE_PV, "joint:controller-{id}"),
    (Role.TORQUE_PV, "joint:pv-{id}"),
    (Role.SOURCES_SET, ""),
    (Role.PV_ON, "controller:{id}"),
    (Role.PV_ON, ""),
)
_SOURCE: Final[Redone] = (
    (Role.CHARGER_SETTINGS, "source:{id}"),
    (Role.DC_DC_LOAD, "source:{id}"),
    (Role.CHARGE_SUM, ""),
    (Role.SOURCES_SET, ""),
    (Role.SHORE_ON, ""),
)
_PANEL: Final[Redone] = ((Role.PANEL_SERIAL, "panel:{id}"), (Role.PLUGS_MATCH, ""))
_PLACE: Final[Redone] = (
    (Role.PANEL_CHALKED, "panel:{id}"),
    (Role.LAYOUT_MARKED, "panel:{id}"),
    (Role.LAYOUT_MARKED, ""),
    (Role.LIDS_CLEAR, ""),
    (Role.CLEAR_BELOW, ""),
    (Role.DRY_FIT, ""),
    (Role.LAYOUT_ACCEPTED, ""),
    (Role.FEET, "panel:{id}"),
    (Role.SEAL_UNDER, "panel:{id}"),
    (Role.SEAL_OVER, "panel:{id}"),
    (Role.FOOT_PHOTOS, "panel:{id}"),
    (Role.EDGES_METALS, ""),
)
_STRING: Final[Redone] = (
    (Role.STRINGS_BUILT, ""),
    (Role.STRINGS_BUILT, "string:{id}"),
    (Role.STRING_FUSE, "string:{id}"),
    (Role.POLARITY_PROVEN, "string:{id}"),
    (Role.STRING_TESTS, "string:{id}"),
    (Role.STRING_TESTS, ""),
    (Role.STRING_POLARITY, "string:{id}"),
    (Role.STRING_VOC, "string:{id}"),
    (Role.STRING_ISC, "string:{id}"),
    (Role.READINGS_COMPARED, ""),
    (Role.ARRAY_INSULATION, ""),
)
_INVERTER: Final[Redone] = (
    (Role.TORQUE, "joint:inverter"),
    (Role.LOAD_TEST, ""),
    (Role.INVERTER_ALARMS, ""),
    (Role.PRECHARGE, ""),
    (Role.INVERTER_ALONE, ""),
    (Role.SHORE_ON, ""),
    (Role.GFCI_TRANSFER, ""),
    (Role.AIR_CONDITIONER_START, ""),
)
_BANK_STEPS: Final[Redone] = ((Role.BATTERY_MONITOR, ""), (Role.LOAD_TEST, ""), (Role.CHARGE_SUM, ""))
#: What of a bank is a matter of hands; the rest of its record is for sizing.
_BANK_FIELDS: Final = (
    "chemistry",
    "unit_nominal_v",
    "unit_capacity_ah",
    "quantity",
    "in_series",
    "is_inside",
)
_PLACE_FIELDS: Final = ("x_m", "y_m", "turned")
#: Work in these phases is live after the go: a go given on the plan before is asked for anew.
_ELECTRIC: Final = frozenset(
    {
        PhaseRole.ROOF_WIRING,
        PhaseRole.HOME_RUN,
        PhaseRole.BATTERY,
        PhaseRole.INVERTER,
        PhaseRole.SOURCES,
        PhaseRole.INSIDE_RUNS,
        PhaseRole.BATTERY_DC,
        PhaseRole.AC_WIRING,
    }
)
_GO: Final[Redone] = ((Role.SCHEDULE_READ, ""), (Role.GO, ""))
#: A changed bank undoes all that was done in these phases, a changed inverter all of its own.
_OF_BANK: Final = frozenset(
    {PhaseRole.BATTERY, PhaseRole.SOURCES, PhaseRole.BATTERY_DC, PhaseRole.BATTERY_ON}
)
_OF_INVERTER: Final = frozenset({PhaseRole.INVERTER, PhaseRole.AC_WIRING})


@dataclass(frozen=True, slots=True)
class Plan:
    """One revision as the steps are made from it: the question put to sizing, and the planned values."""

    inputs: Mapping[str, Any]
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PlanTouch:
    """What becomes of the steps: asked anew, added, not asked any more; and all steps as they are now."""

    touched: frozenset[Key]
    added: frozenset[Key]
    gone: frozenset[Key]
    planned: tuple[PlannedStep, ...]


def plan_touch(before: Plan, after: Plan, version: str) -> PlanTouch:
    """Return what a new revision does to the steps of a job of this version of the templates.

    Chargers must go by the same names in both plans.
    """
    old = {key_of(step): step for step in planned_steps(before.facts, version)}
    planned = tuple(planned_steps(after.facts, version))
    new = {key_of(step): step for step in planned}
    asked = {key for key, step in new.items() if step.is_in_scope}
    was_asked = {key for key, step in old.items() if step.is_in_scope}
    both = asked & was_asked
    touched = {key for key in both if _words(old[key]) != _words(new[key])}
    roles = roles_of(version)
    touched |= both & set(_by_parts(before.inputs, after.inputs, both, roles))
    if _in_phases(touched | (asked - was_asked), _ELECTRIC, roles):
        touched |= both & set(_named(_GO, "", roles))
    return PlanTouch(
        touched=frozenset(touched),
        added=frozenset(asked - was_asked),
        gone=frozenset(was_asked - asked),
        planned=planned,
    )


def key_of(step: PlannedStep) -> Key:
    """Return what a step of a job is known by."""
    return step.code, step.subject


def with_old_names(plan: Plan, before: Plan) -> Plan:
    """Return a plan whose chargers go by the names they had before: a copied design numbers them anew."""
    names = dict(_renamed(before.inputs["sources"], plan.inputs["sources"]))
    return Plan(_rename(plan.inputs, names), rename_facts(plan.facts, names))


def source_names(before: Plan, after: Plan) -> dict[str, str]:
    """Return the new name of each charger by its old one."""
    return {old: new for new, old in _renamed(before.inputs["sources"], after.inputs["sources"])}


def rename_facts(facts: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """Return planned values with chargers under other names."""
    subjects = dict(facts["subjects"])
    for group in ("source", "dc_dc"):
        subjects[group] = [names.get(name, name) for name in subjects[group]]
    sources = {names.get(name, name): found for name, found in facts["source"].items()}
    return {**facts, "source": sources, "subjects": subjects}


def _renamed(old: Iterable[Mapping[str, Any]], new: Iterable[Mapping[str, Any]]) -> Iterator[tuple[str, str]]:
    """Yield the new and the old name of each charger: the same kind and name, in the order of the list."""
    left = list(old)
    for row in new:
        like = next((one for one in left if (one["kind"], one["name"]) == (row["kind"], row["name"])), None)
        if like is not None:
            left.remove(like)
            yield row["id"], like["id"]


def _rename(inputs: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    sources = [
        {
            **row,
            "id": names.get(row["id"], row["id"]),
            "excluded_with": [names.get(name, name) for name in row["excluded_with"]],
        }
        for row in inputs["sources"]
    ]
    return {**inputs, "sources": sources}


def _words(step: PlannedStep) -> PlannedStep:
    """Return what a step asks, without what only helps to read or to choose."""
    fields = [{name: value for name, value in spec.items() if name != "choices"} for spec in step.fields]
    return replace(step, fields=fields, card=[])


def _by_parts(
    old: Mapping[str, Any], new: Mapping[str, Any], keys: set[Key], roles: StepRoles
) -> Iterator[Key]:
    """Yield the steps of the parts that differ."""
    for name in _changed(old["controllers"], new["controllers"]):
        yield from _named(_CONTROLLER, name, roles)
    for name in _changed(old["sources"], new["sources"]):
        yield from _named(_SOURCE, name, roles)
    for name in _changed(old["panels"], new["panels"], ("panel",)):
        yield from _named(_PANEL, name, roles)
        for string in new["strings"]:
            if name in string["panel_ids"]:
                yield from _named(_STRING, string["id"], roles)
    for name in _changed(old["panels"], new["panels"], _PLACE_FIELDS):
        yield from _named(_PLACE, name, roles)
    for name in _changed(old["strings"], new["strings"]):
        yield from _named(_STRING, name, roles)
    if _part(old["bank"], _BANK_FIELDS) != _part(new["bank"], _BANK_FIELDS):
        yield from _in_phases(keys, _OF_BANK, roles)
        yield from _named(_BANK_STEPS, "", roles)
    if old["inverter"] != new["inverter"]:
        yield from _in_phases(keys, _OF_INVERTER, roles)
        yield from _named(_INVERTER, "", roles)


def _named(steps: Redone, name: str, roles: StepRoles) -> Iterator[Key]:
    for role, subject in steps:
        code = roles.code(role)
        if code is not None:
            yield code, subject.format(id=name)


def _in_phases(keys: Iterable[Key], phases: frozenset[PhaseRole], roles: StepRoles) -> set[Key]:
    """Return the steps that belong to these phases."""
    return {key for key in keys if roles.phase_of(key[0]) in phases}


def _changed(
    old: Iterable[Mapping[str, Any]], new: Iterable[Mapping[str, Any]], only: tuple[str, ...] = ()
) -> Iterator[str]:
    """Yield the ids of the rows that differ, came or went."""
    before, after = ({row["id"]: _part(row, only) for row in rows} for rows in (old, new))
    yield from sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name))


def _part(row: Mapping[str, Any] | None, only: tuple[str, ...]) -> Mapping[str, Any] | None:
    return row if row is None or not only else {name: row.get(name) for name in only}
