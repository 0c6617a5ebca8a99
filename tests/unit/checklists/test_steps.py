"""The step templates: complete, and chosen by what the job is.

Steps, holds and scope are common practice of the trade, no source; IEC 62446-1 names the tests of phase K.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest

from checklists.plan.roles import PhaseRole, Role, roles_of
from checklists.plan.steps import SUBJECTS, phases, planned_steps
from checklists.plan.templates import aliases, templates, versions
from sizing import Chemistry, CircuitKind

ROOT = Path(__file__).resolve().parents[3]

#: The steps of this file are those of version 1; a job opened with them keeps them.
VERSION = "1"
LAST = {
    "A": 10,
    "B": 7,
    "C": 7,
    "D": 12,
    "E": 10,
    "F": 6,
    "G": 12,
    "H": 8,
    "I": 7,
    "J": 5,
    "K": 14,
    "L": 5,
    "M": 7,
}
HOLDS = ["A10", "B7", "C7", "D12", "E10", "G12", "H8", "I7", "J5", "K14", "L5", "M7"]
KINDS = {"tick", "number", "photo", "serial", "text", "choice"}


def facts(*scopes: str) -> dict:
    """Return the planned values of a small job with one of everything."""
    one = {"title": "one"}
    subjects = {name: ["1"] for name in SUBJECTS}
    groups = {group: {"1": dict(one)} for _, group in SUBJECTS.values()}
    return groups | {
        "scopes": list(scopes),
        "v_nominal_v": 12,
        "subjects": subjects,
        "choices": {"sizes": [["10", "10 AWG"]]},
        "insulation": {},
        "chemistry": str(Chemistry.LFP),
        "profiles": ["lfp"],
        "equalise": ["off"],
    }


EVERYTHING = ("panels", "battery", "inverter", "dc_dc", "screwed", "flexible", "blind_nut")


def in_scope(*scopes: str) -> set[str]:
    return {step.code for step in planned_steps(facts(*scopes), VERSION) if step.is_in_scope}


def test_every_step_from_a1_to_m7_is_there():
    codes = {step.code for step in planned_steps(facts(*EVERYTHING), VERSION)}
    wanted = {f"{letter}{number}" for letter, last in LAST.items() for number in range(1, last + 1)}
    assert wanted <= codes
    assert codes - wanted == {"D6F"}  # bonding of flexible panels


def test_holds_are_the_twelve_and_come_last_in_their_phase():
    steps = planned_steps(facts(*EVERYTHING), VERSION)
    assert [step.code for step in steps if step.is_hold] == HOLDS
    for letter, found in itertools.groupby(steps, key=lambda step: step.phase):
        last = list(found)[-1]
        assert last.is_hold or letter == "F"


def test_what_no_one_may_override_says_so():
    steps = planned_steps(facts(*EVERYTHING), VERSION)
    assert {step.code for step in steps if not step.can_be_overridden} == {"B7", "E8", "E10", "G9", "H8"}


def test_layout_and_go_need_a_lead():
    assert {step.code for step in planned_steps(facts(*EVERYTHING), VERSION) if step.needs_lead} == {
        "C7",
        "J5",
    }


def test_every_field_is_well_formed():
    for step in planned_steps(facts(*EVERYTHING), VERSION):
        names = [field["name"] for field in step.fields]
        assert len(names) == len(set(names)), step.code
        for field in step.fields:
            assert field["kind"] in KINDS
            assert field["label"]
            if field["kind"] == "number":
                assert {"unit", "min", "max"} <= field.keys(), (step.code, field["name"])
                assert field["min"] < field["max"]
            if field["kind"] == "choice":
                assert field["choices"], (step.code, field["name"])
                assert set(field.get("accept", [])) <= {value for value, _ in field["choices"]} | {
                    str(each) for each in Chemistry
                } | {"custom"}


def test_every_hold_phase_states_its_safety_lines_to_be_ticked():
    steps = planned_steps(facts(*EVERYTHING), VERSION)
    for letter, phase in phases(VERSION).items():
        first = next(step for step in steps if step.phase == letter)
        has_tick = any(field["name"] == "safety" for field in first.fields)
        assert has_tick == bool(phase.safety), letter
    roof = " ".join(phases(VERSION)["D"].safety)
    for words in ("alone on a roof", "Ladder tied", "Tether", "wet or iced", "32 °C", "cover them", "20 kg"):
        assert words in roof
    battery = " ".join(phases(VERSION)["G"].safety)
    assert "Insulated tools" in battery
    assert "Fire extinguisher within 5 m" in battery
    assert "damaged lithium battery goes outside" in battery


@pytest.mark.parametrize(
    ("scopes", "there", "absent"),
    [
        (("panels", "screwed"), "ACDEFIJKLM", "BGH"),
        (("battery",), "ABGIJM", "CDEHL"),
        (("battery", "inverter"), "ABGHIJM", "CDEL"),
        (("panels", "screwed", "battery", "inverter"), "ABCDEFGHIJKLM", ""),
    ],
)
def test_scope_chooses_the_phases(scopes, there, absent):
    phases_there = {code[0] for code in in_scope(*scopes)}
    assert set(there) <= phases_there
    assert not phases_there & set(absent)


def test_battery_only_tests_the_battery_side_only():
    assert {code for code in in_scope("battery") if code[0] == "K"} == {"K10", "K11", "K14"}


def test_dc_dc_brings_its_three_steps():
    without, with_it = in_scope("battery"), in_scope("battery", "dc_dc")
    assert with_it - without == {"I3", "I4", "I5"}


def test_flexible_panels_skip_the_drilling_and_bond():
    codes = in_scope("panels", "flexible")
    assert "D6F" in codes
    assert not codes & {"D2", "D4", "D5", "D6"}


def test_reseal_is_short():
    assert in_scope("reseal") == {"A8", "D1", "D7", "L1", "L2", "L3", "L4", "L5", "M7"}


def test_out_of_scope_steps_stay_as_rows_without_fields():
    steps = [step for step in planned_steps(facts("battery"), VERSION) if not step.is_in_scope]
    assert {"C1", "D12", "K3"} <= {step.code for step in steps}
    assert not any(step.fields for step in steps)


def test_as_built_names_are_the_ones_the_sums_know():
    known = re.compile(
        r"(circuit:\w+\.(run_len_m|size|cable_standard|bundle_count|fuse_a|fuse_interrupting_a|fuse_distance_m"
        r"|is_sheathed|has_no_protection)|string:\w+\.fuse_a|strings\.(ns|np)|bank\.(quantity|is_inside)"
        r"|roof\.(feet|fasteners_per_foot|rafter_spacing_mm|feet_on_rafter|gland_screws|cable_holes|material|screw)"
        r"|weight\.label_kg)"
    )
    for step in planned_steps(facts(*EVERYTHING), VERSION):
        for feed in step.re_runs:
            assert known.fullmatch(feed), (step.code, feed)


def test_every_role_that_code_asks_for_is_a_step_of_some_version():
    every = [roles_of(version) for version in versions()]
    assert set(Role) <= {role for roles in every for role in roles.codes}
    assert {role for roles in every for role in roles.letters} <= set(PhaseRole)


def test_every_alias_of_a_version_names_a_step_and_a_field_it_has():
    for version in versions():
        rows = templates(version)["steps"]
        fields = {(row["role"], field["name"]) for row in rows for field in row["fields"]}
        for own in aliases(version).values():
            role, _, name = own.partition(".")
            assert (role, name.rstrip("@")) in fields if name else role in {row["role"] for row in rows}, own


def test_a_code_has_one_role_and_a_role_one_code():
    pairs = {(row["code"], row["role"]) for row in templates(VERSION)["steps"]}
    assert len(pairs) == len({code for code, _ in pairs}) == len({role for _, role in pairs})


def test_code_names_no_step_and_no_circuit_by_its_letter():
    """Letters move with the order of the work, and a circuit has a name."""
    files = [
        *(path for app in ("checklists", "jobs") for path in (ROOT / app).rglob("*.py")),
        *(ROOT / "static" / "js" / "tablet").rglob("*.js"),
    ]
    codes = "|".join(sorted({row["code"] for row in templates(VERSION)["steps"]} | set(CircuitKind), key=len))
    letters = re.compile(rf"""["'](?:{codes})["']""")
    found = {
        f"{path.name}:{text}"
        for path in files
        if "migrations" not in path.parts
        for text in letters.findall(path.read_text(encoding="utf-8"))
    }
    assert found <= {'shop.py:"A4"', 'survey.py:"M6"'}  # the paper; a screw's thread
