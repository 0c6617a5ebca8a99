"""Drop and area: edges and refusals (the numbers are checked under tests/published)."""

from __future__ import annotations

import numpy as np
import pytest

from sizing.cable.conductors import conductor
from sizing.cable.wire import (
    circular_mils_needed,
    drop,
    loop_len_m,
    resistance_ohm_per_m,
    voltage_drop_v,
)
from sizing.core.inputs import InputOutOfRange


def test_one_way_and_loop_are_told_apart():
    assert loop_len_m(3.0) == 6.0


def test_drop_takes_arrays():
    lengths = np.array([1.0, 2.0])
    assert voltage_drop_v(lengths, 10.0, 0.001).tolist() == pytest.approx([0.02, 0.04])


def test_cables_in_parallel_share():
    one = drop(conductor("2/0"), 2.0, 300.0, 12.0)
    two = drop(conductor("2/0"), 2.0, 300.0, 12.0, parallel_conductors=2)
    assert two.drop_v == pytest.approx(one.drop_v / 2)


@pytest.mark.parametrize("temp_c", [-61.0, 251.0, float("nan")])
def test_it_refuses_temperatures_no_cable_sees(temp_c):
    with pytest.raises(InputOutOfRange, match="conductor_temp_c: must be -60 to 250 °C"):
        resistance_ohm_per_m("10", conductor_temp_c=temp_c)


@pytest.mark.parametrize("drop_v", [0.0, -1.0, float("nan")])
def test_it_refuses_a_drop_that_is_none(drop_v):
    with pytest.raises(InputOutOfRange, match="above 0 V"):
        circular_mils_needed(10, 6, drop_v)
