"""Turns the frozen plan into the plain values the steps of a job are checked against."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, Final

import sizing
from checklists.plan.bands import bands, battery_bands, source_bands, string_bands
from checklists.plan.roles import Role, StepRoles, roles_of
from common.told import in_english
from jobs.engine.stored import result_of
from jobs.engine.system import question_of
from jobs.models import Design, Part, Quote, SizingRun, Vehicle
from jobs.roof.frozen import roof_to_json
from jobs.roof.read import surveyed_roof
from sizing import CircuitKind

#: Circuits whose wire is pulled in the home-run phase; the rest are built at the battery or the inverter.
RUN_KINDS: Final = frozenset(
    {
        CircuitKind.STRINGS_TO_COMBINER,
        CircuitKind.HOME_RUN,
        CircuitKind.CONTROLLER_TO_BUS,
        CircuitKind.START_BATTERY_TO_DC_DC,
        CircuitKind.DC_DC_TO_BUS,
        CircuitKind.CHARGER_TO_BUS,
        CircuitKind.BUS_TO_DC_PANEL,
        CircuitKind.SLIDES_AND_JACKS,
        CircuitKind.SENSE_AND_MONITOR,
        CircuitKind.PORTABLE_INLET,
        CircuitKind.BATTERY_HEATER,
    }
)
#: Of these, the ones whose path begins on the roof: measured before any hole.
ROOF_RUN_KINDS: Final = frozenset({CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN})
#: Positive wires that must show their protection before the go. C1 has its string fuse, C5 its own rule,
#: C7 is the negative, C8 is fused at both ends in its own step, C13 and C14 carry mains, C15 one amp.
PROTECTED_KINDS: Final = frozenset(
    {
        CircuitKind.HOME_RUN,
        CircuitKind.CONTROLLER_TO_BUS,
        CircuitKind.BATTERY_TO_MAIN_FUSE,
        CircuitKind.BUS_TO_INVERTER,
        CircuitKind.DC_DC_TO_BUS,
        CircuitKind.CHARGER_TO_BUS,
        CircuitKind.BUS_TO_DC_PANEL,
        CircuitKind.SLIDES_AND_JACKS,
        CircuitKind.PORTABLE_INLET,
        CircuitKind.BATTERY_HEATER,
    }
)

#: Torque bands where the maker gives none [N·m]. Starting values from makers' tables for M8 battery
#: inserts and inverter studs; busbar and clamp from memory. The maker's own number replaces them.
JOINT_BANDS_NM: Final[Mapping[str, tuple[float, float]]] = {
    "battery": (9.6, 10.7),
    "main_fuse": (9.6, 10.7),
    "shunt": (9.6, 10.7),
    "busbar": (15.0, 20.0),
    "inverter": (13.6, 16.3),
    "controller": (1.2, 1.8),
    "pv_switch": (1.2, 3.0),
}
CABLE_SIZES: Final = (
    ["18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"],
    ["1.5", "2.5", "4", "6", "10", "16", "25", "35", "50", "70", "95", "120"],
)
#: Chargers that bring a shore cord into the work.
_SHORE_KINDS: Final = frozenset({sizing.SourceKind.CONVERTER, sizing.SourceKind.INVERTER_CHARGER})
#: A pull test holds this much more than the design load; common practice, no source. [-]
PULL_TEST_FACTOR: Final = 1.5


@in_english
def plan_facts(design: Design, run: SizingRun, version: str) -> dict[str, Any]:
    """Return the planned values of a design, as stored with its sizing run, by the words the steps use."""
    system, result = question_of(run), result_of(run)
    scopes = scope_switches(design, system, version)
    facts: dict[str, Any] = {
        "scopes": scopes,
        "v_nominal_v": system.v_nominal_v,
        "vin_tail": design.job.vehicle.vin_tail or None,
        "roof_as_surveyed": roof_to_json(surveyed_roof(design.job.survey)),
    }
    facts |= _roof_facts(system, result)
    facts |= _string_facts(system, result)
    facts |= _bank_facts(system)
    facts |= bands(system, result)
    facts |= _circuit_facts(design, result, system)
    facts["source"] = _sources(system, result)
    facts["equipment"] = list(_equipment(design, roles_of(version)))
    facts["joint"] = _joints(system)
    facts["subjects"] = _subjects(facts, system)
    return facts


@in_english
def quote_facts(quote: Quote) -> dict[str, Any]:
    """Return which quote was accepted and what it left out; it never changes after that."""
    return {
        "number": quote.number,
        "title": quote.title,
        "by": quote.accepted_by_name,
        "at": quote.answered_at.isoformat() if quote.answered_at else None,
        "content_sha256": quote.content_sha256,
        "scope": [
            {"text": item.text, "answer": item.get_answer_display(), "is_out": item.is_out, "note": item.note}
            for item in quote.scope_items.all()
        ],
    }


def scope_switches(design: Design, system: sizing.SystemInput, version: str) -> list[str]:
    """Return the switches that choose the steps: what is new decides what is worked on.

    The first list of steps asked its DC-DC steps of an old charger too and knew no switch for shore power;
    its jobs go on that way.
    """
    bank, inverter = getattr(design, "bank", None), getattr(design, "inverter", None)
    new_ids = {str(source.pk) for source in design.sources.all() if source.part_id}
    new_sources = [source for source in system.sources if source.id in new_ids]
    asked = system.sources if version == "1" else new_sources
    on = {
        "panels": bool(system.panels),
        "inverter": bool(inverter and inverter.is_new),
        "dc_dc": any(source.kind == sizing.SourceKind.DC_DC for source in asked),
        "shore": version != "1" and any(source.kind in _SHORE_KINDS for source in new_sources),
        "screwed": any(panel.feet for panel in system.panels),
        "flexible": any(panel.panel.is_flexible for panel in system.panels),
        "blind_nut": design.job.survey.material == "steel" or design.job.vehicle.kind == Vehicle.Kind.CLASS_B,
    }
    on["battery"] = bool((bank and bank.is_new) or on["inverter"] or new_sources)
    on["reseal"] = not on["panels"] and not on["battery"]
    return sorted(name for name, is_on in on.items() if is_on)


def _roof_facts(system: sizing.SystemInput, result: sizing.SystemResult) -> dict[str, Any]:
    panels = {
        panel.id: {
            "title": f"panel {panel.id}",
            "feet": panel.feet,
            "fasteners_per_foot": panel.fasteners_per_foot,
            "holes": panel.feet * panel.fasteners_per_foot,
        }
        for panel in system.panels
    }
    per_foot = [panel.fasteners_per_foot for panel in system.panels if panel.feet]
    roof = system.roof
    facts: dict[str, Any] = {
        "panel": panels,
        "fasteners_per_foot": max(per_foot, default=0),
        "gland": {"box": {"title": "gland box"}},
        "gland_screws": roof.gland_screws if roof else 0,
        "cable_holes": roof.cable_holes if roof else 0,
        "material": None if roof is None or roof.material == "unknown" else roof.material,
        "feet_on_rafter": roof.feet_on_rafter if roof else None,
        "foot_test_n": _foot_test_n(system),
        "blind_nut_tests": math.ceil(result.penetrations.foot_fasteners / 4),
    }
    if roof and roof.rafter_spacing_m is not None:
        facts["rafter_spacing_mm"] = round(roof.rafter_spacing_m * 1000, 1)
    return facts


def _foot_test_n(system: sizing.SystemInput) -> float | None:
    """Return the pull the weakest foot must hold [N]: 1.5 times its share of the design uplift."""
    pull_n = sizing.hardest_foot_n(system)
    return None if pull_n is None else round(PULL_TEST_FACTOR * pull_n, 0)


def _string_facts(system: sizing.SystemInput, result: sizing.SystemResult) -> dict[str, Any]:
    first = result.controllers[0] if result.controllers else None
    facts: dict[str, Any] = {
        "string": {
            string.id: {"title": f"string {string.id}", "fuse_a": string.fuse_a}
            | string_bands(string, system, result)
            for string in system.strings
        },
        "controller": {
            found.id: {
                "title": f"controller {found.id}",
                "voc_cold_v": _rounded(found.voc_cold_v, 1),
                "device_a": _rounded(found.array_device_a, 1),
            }
            for found in result.controllers
        },
        "ns": first.ns if first else None,
        "np": first.np if first else None,
        "insulation": {},
    }
    highest = max((found.voc_stc_v for found in result.controllers), default=0.0)
    if highest > 0:
        facts["insulation"] = {"test_v": sizing.insulation_test(highest).test_voltage_v, "voc_stc_v": highest}
    return facts


def _bank_facts(system: sizing.SystemInput) -> dict[str, Any]:
    bank = system.bank
    if bank is None:
        return {"battery": {}, "profiles": [], "equalise": ["off", "on"], "needs_low_t_stop": False}
    is_lithium = bank.chemistry == sizing.Chemistry.LFP
    never_equalised = bank.chemistry in {sizing.Chemistry.LFP, sizing.Chemistry.GEL}
    return {
        "chemistry": str(bank.chemistry),
        "battery": {
            str(n): {"title": f"battery {n}"} | battery_bands(bank) for n in range(1, bank.quantity + 1)
        },
        "battery_quantity": bank.quantity,
        "bank_ah": bank.unit_capacity_ah * bank.quantity / bank.in_series,
        "bank_location": "inside" if bank.is_inside else "outside_heated" if bank.is_heated else "outside",
        "profiles": [str(bank.chemistry), "custom"],
        "equalise": ["off"] if never_equalised else ["off", "on"],
        "low_t_stop_c": sizing.chemistry_data(bank.chemistry).charge_temp_c.low if is_lithium else None,
        # Where cells can freeze each source must stop by itself: the pack's own cut-off is the last guard.
        "needs_low_t_stop": is_lithium and (bank.tmin_c is None or bank.tmin_c <= 0),
    }


def _circuit_facts(design: Design, result: sizing.SystemResult, system: sizing.SystemInput) -> dict[str, Any]:
    rows = {row.id: row for row in result.circuits}
    insulation = {one.id: str(one.insulation_c) for one in system.circuits}
    circuits: dict[str, dict[str, Any]] = {}
    for circuit in design.circuits.all():
        row = rows.get(circuit.label)
        circuits[circuit.label] = {
            "title": f"{circuit.label} {row.from_to}" if row else circuit.label,
            "kind": circuit.kind,
            "run_len_m": row.run_len_m if row else circuit.run_len_m,
            "size": (row.size if row else None) or circuit.size or None,
            "cable_standard": (row.cable_standard if row else "") or circuit.cable_standard,
            "bundle_count": circuit.bundle_count,
            "insulation": insulation.get(circuit.label),
            "fuse_a": (row.fuse_a if row else None) or circuit.fuse_a,
            "fuse_interrupting_a": circuit.fuse_interrupting_a,
        }
    is_metric = any(found["cable_standard"] == "metric" for found in circuits.values())
    sizes = CABLE_SIZES[is_metric]
    unit = "mm²" if is_metric else "AWG"
    return {"circuit": circuits, "choices": {"sizes": [[size, f"{size} {unit}"] for size in sizes]}}


def _sources(system: sizing.SystemInput, result: sizing.SystemResult) -> dict[str, dict[str, Any]]:
    """Return every charger on the bank: solar controllers by letter, the others by their number."""
    named: list[tuple[str, str, str, float | None, str | None]] = [
        ("controller", found.id, f"solar controller {found.id}", found.absorb_v, None)
        for found in system.controllers
    ]
    named += [("source", found.id, found.name, found.absorb_v, str(found.kind)) for found in system.sources]
    # An answer of an older engine holds no profiles: its question does.
    profiles = {row.key: row for row in result.profiles or sizing.profile_rows(system)}
    limits = source_bands(system)
    return {
        name: {"title": title, "kind": kind}
        | limits.get(name, {})
        | _settings(profiles.get(f"{group}:{name}"), planned_v)
        for group, name, title, planned_v, kind in named
    }


def _settings(row: sizing.ProfileRow | None, planned_v: float | None) -> dict[str, Any]:
    """Return what to set a charger to, and the absorb volts to accept.

    Within 0.1 V of a planned value the bank bears, else the range of the bank.
    """
    if planned_v is not None and (row is None or planned_v == row.absorb_v):
        band = (planned_v, round(planned_v - 0.1, 2), round(planned_v + 0.1, 2))
    elif row is not None:
        band = (row.absorb_v, round(row.absorb_low_v, 2), round(row.absorb_high_v, 2))
    else:
        return {}
    found: dict[str, Any] = dict(zip(("absorb_v", "absorb_low_v", "absorb_high_v"), band, strict=True))
    if row is not None:
        found["setting"] = row.sentence
    if row is not None and row.chemistry == sizing.Chemistry.LFP:
        found["float_high_v"], found["low_t_stop_c"] = row.float_high_v, row.low_t_stop_c
    return found


#: The step at which the serial of each kind of thing is read, in every version of the templates.
_SERIAL_AT: Final[Mapping[str, tuple[Role, ...]]] = {
    "panel": (Role.PANEL_SERIAL,),
    "controller": (Role.PV_GEAR, Role.CONTROLLER_MOUNTED),
    "battery": (Role.BATTERY,),
    "inverter": (Role.INVERTER_CABLE,),
    "source": (Role.CHARGER_SETTINGS,),
}


def _equipment(design: Design, roles: StepRoles) -> Iterator[dict[str, Any]]:
    """Yield what is fitted and the step at which its serial is read."""
    for kind, subject, part, title, location in _fitted_parts(design):
        code = next((found for role in _SERIAL_AT[kind] if (found := roles.code(role))), None)
        yield {
            "code": code,
            "subject": subject,
            "title": title,
            "model": part.name,
            "location": location,
            "warranty_months": part.warranty_months,
        }


def _fitted_parts(design: Design) -> Iterator[tuple[str, str, Part, str, str]]:
    """Yield kind, subject, part, title and place of everything with a serial."""
    for panel in design.panels.all():
        yield "panel", f"panel:{panel.number}", panel.part, f"Panel {panel.number}", "Roof, see plan"
    for unit in design.controllers.all():
        yield "controller", f"controller:{unit.label}", unit.part, f"Controller {unit.label}", "Inside"
    bank, inverter = getattr(design, "bank", None), getattr(design, "inverter", None)
    if bank is not None:
        place = "Inside" if design.job.survey.battery_is_inside else "Outside"
        for number in range(1, bank.quantity + 1):
            yield "battery", f"battery:{number}", bank.part, f"Battery {number}", place
    if inverter is not None:
        own = (row.label for row in design.circuits.all() if row.kind == CircuitKind.BUS_TO_INVERTER)
        yield "inverter", f"circuit:{next(own, '')}", inverter.part, "Inverter", "Inside"
    for source in design.sources.all():
        if source.part is not None:
            yield "source", f"source:{source.pk}", source.part, str(source), "Inside"


def _joints(system: sizing.SystemInput) -> dict[str, dict[str, Any]]:
    bank = system.bank
    named = [
        (f"battery-{n}", f"battery {n}", "battery") for n in range(1, (bank.quantity if bank else 0) + 1)
    ]
    if bank:
        named += [("main-fuse", "main fuse", "main_fuse"), ("shunt", "shunt", "shunt")]
        named.append(("busbar", "busbars", "busbar"))
    if system.inverter:
        named.append(("inverter", "inverter", "inverter"))
    named += [
        (f"controller-{c.id}", f"controller {c.id}, battery side", "controller") for c in system.controllers
    ]
    named += [(f"pv-{c.id}", f"PV switch and combiner {c.id}", "pv_switch") for c in system.controllers]
    return {
        name: {"title": title, "low": JOINT_BANDS_NM[kind][0], "high": JOINT_BANDS_NM[kind][1]}
        for name, title, kind in named
    }


def _subjects(facts: Mapping[str, Any], system: sizing.SystemInput) -> dict[str, list[str]]:
    circuits: Mapping[str, Mapping[str, Any]] = facts["circuit"]

    def of_kind(kinds: frozenset[str]) -> list[str]:
        return [label for label, found in circuits.items() if found["kind"] in kinds]

    inverter_runs = of_kind(frozenset({CircuitKind.BUS_TO_INVERTER}))
    main = of_kind(frozenset({CircuitKind.BATTERY_TO_MAIN_FUSE}))[:1] or inverter_runs[:1]
    return {
        "panel": list(facts["panel"]),
        "gland": list(facts["gland"]) if facts["gland_screws"] else [],
        "string": list(facts["string"]),
        "controller": list(facts["controller"]),
        "battery": list(facts["battery"]),
        "joint": [name for name in facts["joint"] if not name.startswith("pv-")],
        "dc_joint": [name for name in facts["joint"] if not name.startswith(("pv-", "controller-"))],
        "pv_joint": [name for name in facts["joint"] if name.startswith(("pv-", "controller-"))],
        "source": list(facts["source"]),
        "dc_dc": [found.id for found in system.sources if found.kind == sizing.SourceKind.DC_DC],
        "run": of_kind(RUN_KINDS),
        "roof_run": of_kind(ROOF_RUN_KINDS),
        "inside_run": of_kind(RUN_KINDS - ROOF_RUN_KINDS),
        "protected": [label for label in of_kind(PROTECTED_KINDS) if label not in main],
        "main_fuse": main,
        "inverter_run": inverter_runs,
        "dc_dc_run": of_kind(frozenset({CircuitKind.START_BATTERY_TO_DC_DC})),
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
