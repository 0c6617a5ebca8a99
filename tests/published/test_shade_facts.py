"""What shade does to groups, modules and strings, as known from the trade and from circuit theory.

Fractions without a source beside them follow from bypass diodes alone and were worked out beforehand with
an independent cell-mismatch sum; "common practice" marks a figure that installers quote (no source).
"""

from __future__ import annotations

import pytest

from tests.shade_scenes import array_power_w, panel_type

TWO_DIODES, ONE_DIODE, NO_DIODE = panel_type(n_bypass=2), panel_type(n_bypass=1), panel_type(n_bypass=0)
SHADE = 0.85  # of the light gone


def loss(kind, strings, shaded):
    return 1.0 - array_power_w(kind, strings, shaded) / array_power_w(kind, strings, {})


def group(panel):
    return {(panel, cell): SHADE for cell in range(18)}


def module(panel):
    return {(panel, cell): SHADE for cell in range(36)}


@pytest.mark.parametrize("n_cells", [2, 3])
def test_covering_a_few_cells_of_one_group_loses_half_the_module(n_cells):
    assert loss(TWO_DIODES, [[0]], {(0, c): SHADE for c in range(n_cells)}) == pytest.approx(0.52, abs=0.015)


@pytest.mark.parametrize("kind", [ONE_DIODE, NO_DIODE])
@pytest.mark.parametrize("n_cells", [2, 3])
def test_without_a_working_diode_the_same_loses_85_percent(kind, n_cells):
    """Common practice, no source: 80 to 90 %."""
    found = loss(kind, [[0]], {(0, c): SHADE for c in range(n_cells)})
    assert 0.80 < found < 0.90


def test_one_of_three_in_a_lone_string_costs_about_one_module():
    assert 3 * loss(TWO_DIODES, [[0, 1, 2]], module(0)) == pytest.approx(1.0, abs=0.1)


def test_the_same_shade_with_a_second_string_beside_costs_about_two():
    assert 6 * loss(TWO_DIODES, [[0, 1, 2], [3, 4, 5]], module(0)) == pytest.approx(2.0, abs=0.1)


def test_two_shaded_groups_cost_less_in_different_strings():
    apart = loss(TWO_DIODES, [[0, 1, 2], [3, 4, 5]], {**group(0), **group(3)})
    together = loss(TWO_DIODES, [[0, 1, 2], [3, 4, 5]], {**group(0), **group(1)})
    assert apart == pytest.approx(0.175, abs=0.003)
    assert together == pytest.approx(0.326, abs=0.004)


def test_even_shade_only_dims():
    """All cells alike: no mismatch, the loss is that of the light but for the logarithm of the voltage."""
    everywhere = {(0, c): 0.5 for c in range(36)}
    assert loss(TWO_DIODES, [[0]], everywhere) == pytest.approx(0.5, abs=0.03)
