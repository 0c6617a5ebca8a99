"""Laws of weight: levers balance, a hair over is a block, what is not placed is not judged."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sizing
from sizing import Verdict, WeightInput
from tests.designs import golden

MASSES = st.lists(st.tuples(st.floats(0.5, 300.0), st.floats(-1.0, 12.0)), min_size=1, max_size=6)


def carrying(masses, **ledger):
    """Return the answer for a job that adds these masses at these places and nothing else."""
    points = tuple((f"m{i}", kg, x_m) for i, (kg, x_m) in enumerate(masses))
    weight = WeightInput(
        added=tuple((name, kg) for name, kg, _ in points),
        mass_points=points,
        wheelbase_m=5.0,
        front_kg=2000.0,
        rear_kg=3000.0,
        front_limit_kg=2500.0,
        rear_limit_kg=4000.0,
    )
    empty = replace(
        golden(), panels=(), strings=(), controllers=(), bank=None, inverter=None, sources=(), circuits=()
    )
    return sizing.size_system(replace(empty, weight=replace(weight, **ledger)))


@settings(max_examples=50, deadline=None)
@given(masses=MASSES)
def test_the_axles_carry_all_that_is_added_and_no_more(masses):
    result = carrying(masses)
    carried = sum(result.check(f"vehicle/axle_{name}").value for name in ("front", "rear"))
    assert carried == pytest.approx(5000.0 + sum(kg for kg, _ in masses))


@settings(max_examples=50, deadline=None)
@given(masses=MASSES, over_kg=st.floats(0.001, 1.0))
def test_a_hair_over_the_rating_is_never_anything_but_a_block(masses, over_kg):
    total = 5000.0 + sum(kg for kg, _ in masses)
    check = carrying(masses, gvwr_kg=total - over_kg).check("vehicle/gvwr")
    assert check.verdict is Verdict.BLOCK
    value, _, limit = check.sentence.partition(" with the job")
    assert value not in limit


@settings(max_examples=50, deadline=None)
@given(masses=MASSES, spacing_m=st.floats(0.8, 2.0), tag_kg=st.floats(100.0, 2000.0))
def test_a_tag_axle_is_judged_no_milder_than_either_way_of_sharing(masses, spacing_m, tag_kg):
    """The front axle with all of the change on the drive axle, and with all of it on the tag axle."""
    tagged = carrying(masses, tag_kg=tag_kg, tag_limit_kg=9000.0, tag_spacing_m=spacing_m)
    drive, tag = carrying(masses), carrying(masses, wheelbase_m=5.0 + spacing_m)
    judged = tagged.check("vehicle/axle_front").verdict
    ends = [one.check("vehicle/axle_front").verdict for one in (drive, tag)]
    assert judged.severity >= min(end.severity for end in ends)
    assert (judged is Verdict.PASS) == all(end is Verdict.PASS for end in ends)
    assert (judged is Verdict.BLOCK) == all(end is Verdict.BLOCK for end in ends)


@settings(max_examples=50, deadline=None)
@given(masses=MASSES, lost=st.integers(0, 5))
def test_one_mass_without_a_place_leaves_no_axle_judged(masses, lost):
    points = [(f"m{i}", kg, x_m) for i, (kg, x_m) in enumerate(masses)]
    del points[lost % len(points)]
    result = carrying(masses, mass_points=tuple(points))
    assert result.check("vehicle/axles").verdict is Verdict.NOT_ENOUGH_DATA
    assert not [check for check in result.checks if check.key.startswith("vehicle/axle_")]
