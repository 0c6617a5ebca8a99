"""Wind, screws and holes against hand-worked sums: Bernoulli at sea level, counting, the withdrawal formula.

The uplift coefficient of 1.2 and the safety factor of 2 in the bracket case are assumptions of that case, not
published values. Withdrawal: W = 2850·G²·D lb per inch of thread (wood engineering handbooks).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from tests.designs import P200, golden, placed, wired


def test_holes_of_three_modules():
    """Three modules, four brackets, four screws each; gland plate with six screws and two cable holes."""
    design = golden()
    roof = replace(design.roof, gland_screws=6, cable_holes=2)
    holes = sizing.size_system(
        replace(design, panels=placed(P200, 3), strings=wired(3, 3), roof=roof, circuits=())
    ).penetrations
    assert holes.feet == 12
    assert holes.foot_fasteners == 48
    assert holes.penetrations + holes.cable_holes == 56


def test_wind_suction_per_bracket():
    """120 km/h on 1.63 m², coefficient 1.2, four brackets, safety factor 2; the module's weight left out."""
    pressure = sizing.dynamic_pressure_pa(120 / 3.6)
    weightless = replace(P200, length_m=1.63, width_m=1.0, mass_kg=0.0)
    force = sizing.uplift_n(weightless, 120 / 3.6, cp=1.2)
    assert pressure == pytest.approx(680.6, abs=0.5)
    assert force == pytest.approx(1331.2, abs=0.5)
    assert force / 4 == pytest.approx(332.8, abs=0.5)
    assert 2 * force / 4 == pytest.approx(665.6, abs=0.5)


@pytest.mark.parametrize(("screw", "pounds_per_inch"), [("#10", 109.0), ("#14", 140.0)])
def test_withdrawal_in_solid_wood(screw, pounds_per_inch):
    """G 0.45; #10 is 0.190 in, #14 is 0.242 in."""
    newtons = sizing.screw_withdrawal_n(screw, 25.4, in_plywood=False)
    assert newtons / 4.448222 == pytest.approx(pounds_per_inch, abs=1.0)


@pytest.mark.parametrize(("mph", "psf"), [(65, 10.8), (75, 14.4), (105, 28.2)])
def test_wind_pressure_in_pounds_per_square_foot(mph, psf):
    """Bernoulli at 1.225 kg/m³; 1 psf is 47.88 Pa."""
    assert sizing.dynamic_pressure_pa(mph * 0.44704) / 47.88026 == pytest.approx(psf, abs=0.05)
