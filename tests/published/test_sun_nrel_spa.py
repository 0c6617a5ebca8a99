"""Sun position, rise and set against NREL/TP-560-34302, appendix case, and five places; light and heat.

The appendix case (Golden, 2003-10-17) prints zenith 50.11162°, azimuth 194.34024° and incidence 25.18700° on
a plane tilted 30°, turned 10° east of south (compass 170°); 1e-5° for a full algorithm. Rise, transit and set
were computed with pvlib's SPA to the second. The five places: pvlib, confirmed by a second algorithm.
"""

from __future__ import annotations

import datetime as dt

import pytest

import sizing
from tests.published.reading import printed

GOLDEN = {"latitude_deg": 39.742476, "longitude_deg": -105.1786}
MOMENT = dt.datetime(2003, 10, 17, 12, 30, 30, tzinfo=dt.timezone(dt.timedelta(hours=-7)))


def test_appendix_case():
    sun = sizing.solar_position(MOMENT, **GOLDEN, altitude_m=1830.14, temp_air_c=11.0, pressure_pa=82_000.0)
    assert sun.apparent_zenith_deg == pytest.approx(50.11162, abs=1e-5)
    assert sun.azimuth_deg == pytest.approx(194.34024, abs=1e-5)
    incidence = sizing.incidence_deg(
        surface_tilt_deg=30.0,
        surface_azimuth_deg=170.0,
        solar_zenith_deg=sun.apparent_zenith_deg,
        solar_azimuth_deg=sun.azimuth_deg,
    )
    assert incidence == pytest.approx(25.18700, abs=1e-5)


def test_the_trap_of_the_wrong_rotation():
    """Reading the rotation from north instead of south gives 20.29416°."""
    incidence = sizing.incidence_deg(
        surface_tilt_deg=30.0,
        surface_azimuth_deg=190.0,
        solar_zenith_deg=50.11162,
        solar_azimuth_deg=194.34024,
    )
    assert incidence == pytest.approx(20.29416, abs=1e-4)


def test_rise_transit_and_set():
    times = sizing.sun_times(MOMENT, **GOLDEN)
    expected = {"sunrise": (6, 12, 43.46), "transit": (11, 46, 4.96), "sunset": (17, 20, 19.18)}
    for name, (hour, minute, second) in expected.items():
        moment = getattr(times, name)
        seconds = moment.hour * 3600 + moment.minute * 60 + moment.second + moment.microsecond / 1e6
        assert seconds == pytest.approx(hour * 3600 + minute * 60 + second, abs=1.0), name


@pytest.mark.parametrize("row", printed("sun_positions"), ids=lambda row: row["case"])
def test_five_places(row):
    sun = sizing.solar_position(
        dt.datetime.fromisoformat(row["moment"]),
        latitude_deg=float(row["latitude_deg"]),
        longitude_deg=float(row["longitude_deg"]),
        altitude_m=float(row["altitude_m"]),
    )
    assert sun.apparent_zenith_deg == pytest.approx(float(row["zenith_deg"]), abs=0.01)
    assert sun.azimuth_deg == pytest.approx(
        float(row["azimuth_deg"]), abs=float(row["azimuth_tolerance_deg"])
    )


def test_isotropic_plane_of_array():
    """By hand: 800·cos 10° + 100·(1 + cos 30°)/2 + 0.2·712.836·(1 - cos 30°)/2 = 890.698 W/m²."""
    light = sizing.poa_isotropic_w_m2(
        surface_tilt_deg=30.0,
        surface_azimuth_deg=180.0,
        solar_zenith_deg=40.0,
        solar_azimuth_deg=180.0,
        dni_w_m2=800.0,
        ghi_w_m2=712.835555,
        dhi_w_m2=100.0,
    )
    assert light == pytest.approx(890.698, abs=0.01)


def test_cell_temperatures():
    """NOCT line by hand; SAPM by hand: 1000·exp(-2.98 - 0.0471) + 25 + 1."""
    assert sizing.cell_temp_noct_c(20.0, 800.0, 45.0) == pytest.approx(45.0, abs=0.01)
    assert sizing.cell_temp_noct_c(35.0, 1000.0, 44.8) == pytest.approx(66.0, abs=0.01)
    sapm = sizing.cell_temp_sapm_c(1000.0, 25.0, 1.0, mounting="close_mount_glass_glass")
    assert sapm == pytest.approx(74.456, abs=0.01)
