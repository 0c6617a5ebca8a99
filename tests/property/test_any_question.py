"""The smaller questions of the face: plans, advice, settings and readings answer or name the fault."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import sizing
from sizing import InputOutOfRange, Quantity, Verdict
from sizing.files.validate import validate
from tests.designs import P200
from tests.property.random_designs import systems

CALM = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def sound(system) -> bool:
    """Return whether a design can be asked at all."""
    try:
        validate(system)
    except InputOutOfRange:
        return False
    return True


@CALM
@given(systems())
def test_any_design_has_plans_or_says_why_not(system):
    assume(sound(system))
    answer = sizing.string_plans(system)
    assert answer.sentence
    assert len(answer.plans) <= 3
    for plan in answer.plans:
        assert not plan.blocking
        assert all(math.isfinite(number) for number in plan.rank_key)
        used = [name for string in plan.strings for name in string.panel_ids]
        assert sorted(used) == sorted(placed.id for placed in system.panels)


@CALM
@given(systems())
def test_any_design_gets_advice_and_settings(system):
    assume(sound(system))
    for advice in sizing.energy_advice(system):
        assert math.isfinite(advice.gain_wh)
        assert advice.sentence
    for row in sizing.profile_rows(system):
        assert row.absorb_low_v <= row.absorb_v <= row.absorb_high_v or row.absorb_low_v > row.absorb_high_v
        assert row.max_a >= 0


NUMBERS = st.floats(allow_nan=True, allow_infinity=True)


@settings(max_examples=300, deadline=None)
@given(measured=st.none() | NUMBERS, light=NUMBERS, cell=NUMBERS, ns=st.integers(-2, 30))
def test_any_reading_is_judged_or_refused_by_name(measured, light, cell, ns):
    try:
        expected = sizing.expected_readings(P200, ns=ns, poa_global_w_m2=light, temp_cell_c=cell)
        check = sizing.judge_reading(Quantity.VOC, measured, expected, poa_global_w_m2=light, string_id="1")
    except InputOutOfRange:
        return
    assert check.verdict is not Verdict.PASS or measured is not None
    assert check.sentence
