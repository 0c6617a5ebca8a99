"""The sun of the shade engine against the worked example of NREL's solar position algorithm.

Source: Reda and Andreas, Solar position algorithm for solar radiation applications, NREL/TP-560-34302
(revised January 2008), table A5.1: 17 October 2003, 12:30:30 local time, UTC-7, 39.742476° N, 105.1786° W,
1830.14 m, 820 mbar, 11 °C: topocentric azimuth 194.34024°, zenith 50.11162°. The engine takes the pressure
of the altitude and 12 °C, which moves the refraction by less than 0.001°.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sizing.shade.scene.scene import Site
from sizing.shade.sky.sky_formulas import solar_position

PLACE = Site(39.742476, -105.1786, 1830.14, -7)


def test_the_sun_stands_where_the_worked_example_puts_it():
    moment = dt.datetime(2003, 10, 17, 19, 30, 30, tzinfo=dt.UTC).timestamp()
    azimuth, apparent, true = solar_position(np.array([moment]), PLACE)
    assert azimuth[0] == pytest.approx(194.34024, abs=2e-4)
    assert 90.0 - apparent[0] == pytest.approx(50.11162, abs=1e-3)
    assert true[0] < apparent[0]
