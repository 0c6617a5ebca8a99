"""Finds a step by what it is for: code asks for a role, people read the letter code printed on the list.

The step templates give every step and every phase a role. Letter codes follow the order of the work and
change with it; roles stay. A stored step has its code only, so its role is looked up in the template its job
was made from.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from checklists.plan.templates import templates


class Role(StrEnum):
    """The steps that code asks for by name, of every version; the templates have more."""

    ARRIVAL_MOISTURE = "arrival_moisture"
    DEAD_PROOF = "dead_proof"
    PANEL_CHALKED = "panel_chalked"
    LIDS_CLEAR = "lids_clear"
    CLEAR_BELOW = "clear_below"
    DRY_FIT = "dry_fit"
    LAYOUT_ACCEPTED = "layout_accepted"
    SEALANT = "sealant"
    FEET = "feet"
    SEAL_UNDER = "seal_under"
    SCREWS = "screws"
    SEAL_OVER = "seal_over"
    FOOT_PHOTOS = "foot_photos"
    UNUSED_HOLES = "unused_holes"
    SEAL_COUNT = "seal_count"
    PANEL_SERIAL = "panel_serial"
    PLUGS_MATCH = "plugs_match"
    STRINGS_BUILT = "strings_built"
    STRING_FUSE = "string_fuse"
    GLAND_BOX = "gland_box"
    STRING_POLARITY = "string_polarity"
    POLARITY_PROVEN = "polarity_proven"
    PV_SWITCH = "pv_switch"
    CONTROLLER_MOUNTED = "controller_mounted"
    BATTERY = "battery"
    BATTERY_TRAY = "battery_tray"
    BANK_PLACE = "bank_place"
    TOOLS = "tools"
    TORQUE = "torque"
    BATTERY_COMPLETE = "battery_complete"
    INVERTER_CABLE = "inverter_cable"
    LICENSED_PERSON = "licensed_person"
    CHARGER_SETTINGS = "charger_settings"
    DC_DC_LOAD = "dc_dc_load"
    CHARGE_SUM = "charge_sum"
    SECOND_PERSON = "second_person"
    SCHEDULE_READ = "schedule_read"
    OPEN_ITEMS = "open_items"
    GO = "go"
    INSTRUMENTS = "instruments"
    SUN = "sun"
    STRING_VOC = "string_voc"
    STRING_ISC = "string_isc"
    READINGS_COMPARED = "readings_compared"
    ARRAY_INSULATION = "array_insulation"
    FIRST_CHARGE = "first_charge"
    CHARGE_STAGES = "charge_stages"
    DROP_UNDER_SUN = "drop_under_sun"
    BATTERY_MONITOR = "battery_monitor"
    LOAD_TEST = "load_test"
    INVERTER_ALARMS = "inverter_alarms"
    AIR_CONDITIONER_START = "air_conditioner_start"
    READINGS_PASS = "readings_pass"  # noqa: S105 - not a password
    CURE = "cure"
    LEAK_TEST = "leak_test"
    TOP_UP = "top_up"
    RELEASE = "release"
    LABELS = "labels"
    SIGN_OFF = "sign_off"
    # from version 2 on
    PROVEN_DEAD = "proven_dead"
    WORKS_BEFORE = "works_before"
    ROOF_CHECKED = "roof_checked"
    LAYOUT_MARKED = "layout_marked"
    HOME_RUN_LENGTH = "home_run_length"
    CABLE_ENTRY = "cable_entry"
    EDGES_METALS = "edges_metals"
    BOND_CONTINUITY = "bond_continuity"
    FIXTURES_SEALED = "fixtures_sealed"
    WIRE_RUNS = "wire_runs"
    PV_GEAR = "pv_gear"
    TORQUE_PV = "torque_pv"
    MAIN_FUSE = "main_fuse"
    PROTECTION = "protection"
    NEUTRAL_KIND = "neutral_kind"
    BATTERY_LIVE = "battery_live"
    PRECHARGE = "precharge"
    SOURCES_SET = "sources_set"
    STRING_TESTS = "string_tests"
    PV_ON = "pv_on"
    INVERTER_ALONE = "inverter_alone"
    SHORE_ON = "shore_on"
    GFCI_TRANSFER = "gfci_transfer"
    FUNCTIONS_AFTER = "functions_after"
    ROAD_READY = "road_ready"


class PhaseRole(StrEnum):
    """The phases of the work, of every version of the templates."""

    LAYOUT = "layout"
    ROOF_WIRING = "roof_wiring"
    HANDOVER = "handover"
    # version 1 only
    ARRIVAL = "arrival"
    MAKE_DEAD = "make_dead"
    MOUNT = "mount"
    HOME_RUN = "home_run"
    BATTERY = "battery"
    INVERTER = "inverter"
    SOURCES = "sources"
    BEFORE_ENERGISING = "before_energising"
    COMMISSIONING = "commissioning"
    LEAK_TEST = "leak_test"
    # from version 2 on
    CHECK_IN = "check_in"
    MAKE_SAFE = "make_safe"
    MOUNT_SEAL = "mount_seal"
    INSIDE_RUNS = "inside_runs"
    BATTERY_DC = "battery_dc"
    AC_WIRING = "ac_wiring"
    CLOSE_OUT = "close_out"
    BATTERY_ON = "battery_on"
    SOURCES_ON = "sources_on"
    LEAK_RELEASE = "leak_release"


@dataclass(frozen=True, slots=True)
class StepRoles:
    """The roles of one template's steps and phases, and the letters that stand for them."""

    by_code: Mapping[str, str]
    codes: Mapping[str, str]
    by_letter: Mapping[str, PhaseRole]
    letters: Mapping[PhaseRole, str]

    def of(self, code: str) -> str:
        """Return the role of the step with this code."""
        return self.by_code[code]

    def code(self, role: str) -> str | None:
        """Return the code printed for the step of this role; None where this version has no such step."""
        return self.codes.get(role)

    def phase_of(self, code: str) -> PhaseRole:
        """Return the phase of the step with this code."""
        return self.by_letter[code[0]]

    def letter(self, phase: PhaseRole) -> str | None:
        """Return the letter printed for a phase; None where this version has no such phase."""
        return self.letters.get(phase)


@functools.cache
def roles_of(template_version: str) -> StepRoles:
    """Return the roles of the template a job was made from."""
    data = templates(template_version)
    by_code = {row["code"]: row["role"] for row in data["steps"]}
    by_letter = {row["letter"]: PhaseRole(row["role"]) for row in data["phases"]}
    return StepRoles(
        by_code=by_code,
        codes={role: code for code, role in by_code.items()},
        by_letter=by_letter,
        letters={role: letter for letter, role in by_letter.items()},
    )


@functools.cache
def printed_on(page: str, template_version: str) -> frozenset[str]:
    """Return the roles of the steps whose values are printed on a page of the job sheet."""
    steps = templates(template_version)["steps"]
    return frozenset(row["role"] for row in steps if row.get("sheet_page") == page)
