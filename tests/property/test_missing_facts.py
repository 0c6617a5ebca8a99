"""A fact that is not known is never a pass: each is taken out of a design that passes whole, one at a time.

Whatever the missing fact, a check that rested on it says "not enough data", and so does the whole; or it is
judged on what is taken in its place and keeps to the design. Where a check is not there any more the table
below says why. And the other way: taking a fact out never turns a block into a pass.
"""

from __future__ import annotations

import random
import types
import typing
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest

import sizing
from sizing import SystemInput, Verdict
from tests.designs import P200, golden, placed
from tests.property.random_designs import system

Path = tuple[Any, ...]
#: What a blank asks of the engine instead of leaving it without an answer: it proposes, or works it out.
CHOICES = {"size", "ocpd", "fuse_a", "current_a"}
#: Parts of a vehicle, not facts of one: without it there is nothing to judge.
PARTS = {"bank", "inverter", "roof", "weight"}
#: Checks that go with the fact, and what says it in their place.
GOES_WITH_IT = {
    ("voltage_rating_v", "ocpd_voltage"): "no question below 32 V, which every DC family is made for",
    ("distance_to_source_m", "ocpd_distance"): "asked of the device nearest the battery, which C4 is",
    ("run_len_m", "run_len"): "the drop of the same cable is not enough data then",
}


def clean() -> SystemInput:
    """Return the reference design with a third less use and two more feet a panel: every check passes."""
    found = golden()
    return replace(
        found,
        loads=tuple(replace(row, power_w=row.power_w * 0.6) for row in found.loads),
        inverter=replace(found.inverter, idle_w=10.0),
        panels=placed(P200, 4, feet=6),
    )


def facts(node: Any, path: Path = ()) -> Iterator[Path]:
    """Yield the place of every value that may be unknown and is known."""
    if is_dataclass(node):
        hints = typing.get_type_hints(type(node), include_extras=True)
        for one in fields(node):
            value = getattr(node, one.name)
            if value is not None and _may_be_unknown(hints[one.name]):
                yield (*path, one.name)
            yield from facts(value, (*path, one.name))
    elif isinstance(node, tuple):
        for place, value in enumerate(node):
            yield from facts(value, (*path, place))


def _may_be_unknown(hint: Any) -> bool:
    return typing.get_origin(hint) in (typing.Union, types.UnionType) and type(None) in typing.get_args(hint)


def without(node: Any, path: Path) -> Any:
    """Return a design in which one fact is not known."""
    if not path:
        return None
    if isinstance(node, tuple):
        return (*node[: path[0]], without(node[path[0]], path[1:]), *node[path[0] + 1 :])
    return replace(node, **{path[0]: without(getattr(node, path[0]), path[1:])})


def answered(found: SystemInput) -> sizing.SystemResult | None:
    """Return the answer, None where the question is refused by name."""
    try:
        return sizing.size_system(found)
    except sizing.InputOutOfRange:
        return None


FACTS = [path for path in facts(clean()) if not {path[-1]} & (CHOICES | PARTS)]


def test_the_design_passes_whole():
    result = sizing.size_system(clean())
    assert [(check.key, check.sentence) for check in result.checks if check.verdict is not Verdict.PASS] == []
    assert result.verdict is Verdict.PASS
    assert sizing.grouped(result.checks) == ()  # nothing needs attention
    assert len(FACTS) > 40


@pytest.mark.parametrize("path", FACTS, ids=lambda path: ".".join(str(one) for one in path))
def test_a_fact_that_is_missing_is_never_a_pass(path):
    """Every check stays, or its table says why; where one could not be judged, the whole is no pass."""
    whole, less = sizing.size_system(clean()), answered(without(clean(), path))
    if less is None:
        return
    left = {check.key: check for check in less.checks}
    gone = {check.key.rpartition("/")[2] for check in whole.checks if check.key not in left}
    assert gone <= {rule for name, rule in GOES_WITH_IT if name == path[-1]}
    unknown = [check for check in less.checks if check.verdict is Verdict.NOT_ENOUGH_DATA]
    if unknown:
        assert less.verdict.severity >= Verdict.NOT_ENOUGH_DATA.severity


def test_what_is_needed_is_asked_for_by_name():
    bare = clean()
    for path, key in {
        ("controllers", 0, "absorb_v"): "controller:A/profile",
        ("sources", 0, "absorb_v"): "source:converter/profile",
        ("circuits", 0, "run_len_m"): "circuit:C2/drop",
        ("roof", "overall_height_m"): "vehicle/height",
        ("weight", "label_kg"): "vehicle/cargo_left",
    }.items():
        less = sizing.size_system(without(bare, path))
        assert less.check(key).verdict is Verdict.NOT_ENOUGH_DATA, key
        assert less.verdict is Verdict.NOT_ENOUGH_DATA, key
    no_cold = sizing.size_system(replace(bare, tmin_travel_c=None, tmin_storage_c=None))
    assert no_cold.check("controller:A/cold_voc").verdict is Verdict.NOT_ENOUGH_DATA


def test_a_circuit_of_unknown_current_and_one_without_a_device_pass_nothing():
    """A circuit whose current nobody knows is not enough data, however thick its cable is."""
    bare = replace(clean(), loads=())  # nothing tells what the panel feeds
    panel = next(place for place, one in enumerate(bare.circuits) if one.id == "C11")
    less = sizing.size_system(without(bare, ("circuits", panel, "current_a")))
    assert less.check("circuit:C11/ampacity").verdict is Verdict.NOT_ENOUGH_DATA
    assert less.verdict is Verdict.NOT_ENOUGH_DATA
    naked = replace(bare.circuits[panel], has_no_ocpd=True, ocpd=None)
    none = sizing.size_system(replace(bare, circuits=(*bare.circuits[:panel], naked)))
    assert none.check("circuit:C11/protection").verdict is Verdict.BLOCK


# --- taking a fact out --------------------------------------------------------------------------------------

#: What may be judged milder without a fact, and why: another fact stands in its place then.
MILDER_WITHOUT = {
    "pv_isc_limit_a": "the maker's rated output is the limit",
    "roof_clearance_m": "the proposed cable is another",
    "short_circuit_a": "the range by chemistry stands, which may be lower than what its maker stated",
    "internal_resistance_ohm": "the range by chemistry stands",
    "voltage_rating_v": "the voltage of its family stands, which may be above its own marking",
    "absorb_v": "a charger nobody set is counted at the volts of the bank",
    "alternator_load_a": "the usual load of a vehicle is counted",
    "max_charge_a": "the usual rate of the chemistry stands",
    "tmin_c": "the bank is taken as cold as the air or its storage",
}


@pytest.mark.parametrize("seed", range(60))
def test_taking_a_fact_out_never_turns_a_block_into_a_pass(seed):
    """A random design, each of some facts taken out: no block of it may pass for want of the fact."""
    rng = random.Random(f"facts {seed}")
    found = system(bytes(rng.randrange(256) for _ in range(900)))
    whole = answered(found)
    if whole is None:
        return
    blocks = {check.key for check in whole.checks if check.verdict is Verdict.BLOCK}
    known = [path for path in facts(found) if not {path[-1]} & (CHOICES | PARTS | MILDER_WITHOUT.keys())]
    for path in rng.sample(known, min(10, len(known))):
        less = answered(without(found, path))
        if less is None:
            continue
        passed = {check.key for check in less.checks if check.verdict is Verdict.PASS}
        assert not blocks & passed, path
        assert not blocks or less.verdict is not Verdict.PASS, path
