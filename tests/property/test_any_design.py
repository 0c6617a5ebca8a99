"""Whatever is asked, the engine answers or names what cannot be asked; no broken number is ever a pass."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import sizing
from sizing.core.checks import Provenance, Verdict
from sizing.core.inputs import InputOutOfRange, SystemInput
from sizing.core.reading import loads
from sizing.files.jsonio import input_from_dict, input_to_dict, result_from_dict, result_to_dict
from sizing.files.validate import validate
from tests.property.random_designs import systems

CALM = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
BATCHES = 20
LONG = settings(CALM, max_examples=100_000 // BATCHES, database=None)

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=10,
)


def refusal_of(ask: Callable[[], object]) -> InputOutOfRange | None:
    """Return how a question was refused; any other exception is a fault and rises."""
    try:
        ask()
    except InputOutOfRange as refusal:
        return refusal
    return None


def answers_or_names_the_fault(system: SystemInput) -> None:
    refusal = refusal_of(lambda: validate(system))
    if refusal is not None:
        assert refusal.path
        assert refusal.message
        return
    result = sizing.size_system(system)
    for check in result.checks:
        assert check.source
        assert check.sentence
        assert "nan" not in check.sentence.lower().split()
        assert check.value is None or math.isfinite(check.value)
        if check.verdict is Verdict.PASS:
            assert check.provenance is not Provenance.MEMORY
            assert check.value is not None or not check.unit
    harvest_keeps_to_the_controllers(system, result)
    keys = [check.key for check in result.checks]
    assert len(keys) == len(set(keys)), "keys must be unique"
    text = json.dumps(result_to_dict(result), allow_nan=False)
    assert result_from_dict(loads(text)) == result


def harvest_keeps_to_the_controllers(system: SystemInput, result: sizing.SystemResult) -> None:
    """No day gives more than every controller at its rating for 24 hours, at 13.6 V per 12 V."""
    amps = sum(unit.rated_output_a for unit in system.controllers)
    most_wh = amps * 13.6 * system.v_nominal_v / 12.0 * 24.0
    for month in result.harvest:
        days = (month.harvest_wh, month.poor_day_wh, month.fine_day_wh)
        assert all(each is None or each >= -1e-6 for each in days)
        if system.controllers:
            assert all(each is None or each <= most_wh * 1.002 for each in days)
        assert month.clipped_wh >= 0
        assert month.heater_wh >= 0


@CALM
@given(systems())
def test_any_design_is_answered_or_refused_by_name(system):
    answers_or_names_the_fault(system)


@pytest.mark.full
@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_hundred_thousand_designs(batch):
    """Runs a quarter of an hour: ``pytest -n 0 -m full tests/property``; ``-k 'thousand and 7'`` for a batch.

    In batches, because Hypothesis remembers every design it has tried until the test ends.
    """
    LONG(given(systems())(answers_or_names_the_fault))()


@settings(CALM, max_examples=50)
@given(systems())
def test_every_design_comes_back_from_json(system):
    assume(refusal_of(lambda: validate(system)) is None)
    text = json.dumps(input_to_dict(system), allow_nan=False)
    assert input_from_dict(json.loads(text)) == system


@settings(CALM, max_examples=200)
@given(
    st.dictionaries(st.sampled_from(["rule_set", "panels", "bank", "loads", "v_nominal_v", "x"]), json_values)
)
def test_any_json_is_a_design_or_refused_by_name(data):
    with pytest.raises(InputOutOfRange):
        input_from_dict(data)


@settings(CALM, max_examples=200)
@given(
    st.dictionaries(
        st.sampled_from(["roof", "location", "weather", "panel_types", "panels", "wirings", "lay", "x"]),
        json_values,
    )
)
def test_any_json_is_a_scene_or_refused_by_name(data):
    with pytest.raises(sizing.SceneError):
        sizing.scene_from_json(data)


@settings(CALM, max_examples=200)
@given(st.binary(max_size=200))
def test_any_bytes_are_json_or_refused_by_name(content):
    refusal = refusal_of(lambda: loads(content))
    assert refusal is None or refusal.path == "file"
