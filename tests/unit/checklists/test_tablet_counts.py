"""Counting holes and settling one lug on the tablet alone; expected numbers by counting on paper."""

from __future__ import annotations

from typing import Any

from tests.js import needs_node, run_js

SEALS = """
import { sealCount } from "./rules/seals.js";
answer(data.states.map((state) => sealCount(data.job, new Map(state))));
"""
JUDGE = """
import { judgeStep } from "./rules/judging.js";
const state = new Map(data.state);
answer(judgeStep(data.job.steps[0], state.get(1), { job: data.job, state, whole: state }));
"""


def step(pk: int, role: str, subject: str = "", **more: Any) -> dict[str, Any]:
    """Return a step as a tablet takes it along."""
    plain = {"title": role, "fields": [], "is_in_scope": True, "needs_lead": False, "since_design": 0}
    return {"pk": pk, "role": role, "subject": subject, **plain, **more}


def stands(**values: Any) -> dict[str, Any]:
    """Return what stands at a step: one value at each field, by Bob."""
    return {"fields": {name: field((value, "Bob")) for name, value in values.items()}, "notes": []}


def field(*told: tuple[Any, str]) -> dict[str, Any]:
    """Return what stands at a field, told by somebody each."""
    values = list(dict.fromkeys(value for value, _ in told))
    standing = [{"value": value, "by_name": name, "design_number": 1} for value, name in told]
    return {
        "standing": standing,
        "values": values,
        "value": values[0] if len(values) == 1 else None,
        "photos": [],
        "isConflict": len(values) > 1,
    }


def roof() -> tuple[dict[str, Any], list[list[Any]]]:
    """Return four panels of 6 feet with 4 screws, a gland box of 8, 2 cable holes: sealed but for the box."""
    steps, state = [], []
    for panel in range(1, 5):
        for place, role in enumerate(("feet", "seal_under", "seal_over")):
            steps.append(step(10 * panel + place, role, f"panel:{panel}"))
        sealed = stands(**{f"foot_{n}": 4 for n in range(1, 7)})
        state += [[10 * panel + 1, sealed], [10 * panel + 2, sealed]]
    steps += [step(90, "seal_under", "gland:box"), step(91, "seal_over", "gland:box")]
    steps += [step(92, "cable_entry"), step(93, "edges_metals")]
    state += [[91, stands(holes=8)], [92, stands(cable_holes_sealed=2)]]
    facts = {
        "panel": {str(n): {"title": f"panel {n}", "feet": 6, "holes": 24} for n in range(1, 5)},
        "fasteners_per_foot": 4,
        "gland_screws": 8,
        "cable_holes": 2,
    }
    return {"steps": steps, "facts": facts}, state


@needs_node
def test_holes_are_counted_as_built():
    """4 panels × 6 feet × 4 screws + 8 = 104 and 2; 4 feet more make 120; a foot less leaves 4 to patch."""
    job, state = roof()
    more = [*state, [10, stands(feet=8)], [20, stands(feet=8)], [90, stands(holes=8)]]
    fewer = [*state, [10, stands(feet=5, holes=24)], [90, stands(holes=8)]]
    planned, grown, shrunk = run_js(SEALS, {"job": job, "states": [state, more, fewer]})
    assert (planned["made"], planned["cableHoles"], planned["under"], planned["over"]) == (104, 2, 96, 104)
    assert planned["sentences"] == ["Sealed under: 96 of 104, 8 under missing (gland box 8)"]
    assert planned["verdict"] == "block"
    assert (grown["made"], grown["over"]) == (120, 104)
    assert "Sealed over: 104 of 120, 16 over missing (panel 1 8, panel 2 8)" in grown["sentences"]
    assert (shrunk["made"], shrunk["unused"]) == (100, 4)
    assert "4 unused holes to patch, 0 patched" in shrunk["sentences"]


@needs_node
def test_two_torques_for_one_lug_are_both_shown_and_asked_about():
    """11.0 and 9.0 N·m, neither seen by the other, in a band of 9.6 to 10.7: the hold stays shut."""
    torque = {"name": "plus_nm", "kind": "number", "label": "Torque", "unit": "N·m", "low": 9.6, "high": 10.7}
    job = {"steps": [step(1, "torque", "joint:battery-1", fields=[torque])], "facts": {}}
    told = {"fields": {"plus_nm": field((11.0, "Bob"), (9.0, "Ada"))}, "notes": []}
    mark = run_js(JUDGE, {"job": job, "state": [[1, told]]})
    words = "Torque: recorded twice and different: 11 N·m (Bob) and 9 N·m (Ada). Which one is right?"
    assert (mark["mark"], mark["isDone"]) == ("conflict", False)
    assert mark["fields"]["plus_nm"]["sentence"] == words
    for value in (11.0, 9.0):
        one = run_js(JUDGE, {"job": job, "state": [[1, stands(plus_nm=value)]]})
        assert one["mark"] == "fail"
