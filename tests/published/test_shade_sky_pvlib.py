"""The short formulas of sun and clear sky against pvlib 0.16, which they stand in for.

Source: pvlib.solarposition (NREL SPA), atmosphere, irradiance, clearsky.ineichen, iam.physical, and the
bundled Linke turbidities. Agreement to rounding: any difference would be a mistake in the copy.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from sizing.shade.scene.scene import Site
from sizing.shade.sky.sky_formulas import (
    clear_sky,
    day_of_year,
    equation_of_time_min,
    extra_radiation,
    hour_of_day,
    linke_turbidity,
    month_of_year,
    pressure_pa,
    reflection,
    relative_airmass,
    solar_position,
    year_start_s,
)

PLACES = [Site(44.0, -110.0, 900.0, -7), Site(-34.0, 138.0, 100.0, 9), Site(69.6, 18.9, 10.0, 1)]
INDEX = pd.date_range("2023-01-01 00:30", "2024-12-31 23:30", freq="67min", tz="UTC")
TIMES = ((INDEX - pd.Timestamp("1970-01-01", tz="UTC")) / pd.Timedelta(seconds=1)).to_numpy(float)


@pytest.mark.parametrize("site", PLACES, ids=lambda site: str(site.latitude_deg))
def test_sun_and_clear_sky_are_pvlibs(site):
    azimuth, apparent, true = solar_position(TIMES, site)
    theirs = pvlib.solarposition.get_solarposition(
        INDEX, site.latitude_deg, site.longitude_deg, altitude=site.altitude_m, temperature=12
    )
    assert azimuth == pytest.approx(theirs["azimuth"].to_numpy(), abs=1e-9)
    assert apparent == pytest.approx(theirs["apparent_elevation"].to_numpy(), abs=1e-9)
    assert true == pytest.approx(theirs["elevation"].to_numpy(), abs=1e-9)
    airmass = pvlib.atmosphere.get_relative_airmass(90 - apparent)
    assert relative_airmass(apparent) == pytest.approx(airmass, rel=1e-12, nan_ok=True)
    extra = pvlib.irradiance.get_extra_radiation(INDEX.day_of_year.to_numpy(float))
    assert extra_radiation(TIMES) == pytest.approx(extra, rel=1e-12)
    pressure = pvlib.atmosphere.alt2pres(site.altitude_m)
    assert pressure_pa(site.altitude_m) == pytest.approx(pressure, rel=1e-12)
    with np.errstate(divide="ignore", invalid="ignore"):
        clear = pvlib.clearsky.ineichen(
            90 - apparent,
            pvlib.atmosphere.get_absolute_airmass(airmass, pressure),
            3.3,
            altitude=site.altitude_m,
            dni_extra=extra,
        )
    dni, dhi = clear_sky(apparent, 3.3, site.altitude_m, TIMES)
    up = apparent > 0
    assert dni[up] == pytest.approx(clear["dni"][up], rel=1e-9, abs=1e-9)
    assert dhi[up] == pytest.approx(clear["dhi"][up], rel=1e-9, abs=1e-9)
    assert not dni[~up].any()
    assert not dhi[~up].any()


def test_reflection_is_pvlibs_physical_model():
    angle = np.linspace(0, 90, 361)
    theirs = pvlib.iam.physical(angle)
    assert reflection(np.cos(np.radians(angle))) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize("site", PLACES, ids=lambda site: str(site.latitude_deg))
def test_turbidities_are_those_of_the_bundled_table(site):
    months = pd.date_range("2023-01-15", periods=12, freq="MS", tz="UTC")
    theirs = pvlib.clearsky.lookup_linke_turbidity(
        months, site.latitude_deg, site.longitude_deg, interp_turbidity=False
    )
    ours = linke_turbidity(site.latitude_deg, site.longitude_deg)
    assert np.roll(ours, -1) == pytest.approx(theirs.to_numpy())


def test_the_calendar_is_that_of_pandas():
    assert day_of_year(TIMES) == pytest.approx(INDEX.day_of_year.to_numpy(float))
    assert month_of_year(TIMES) == pytest.approx(INDEX.month.to_numpy(float))
    assert hour_of_day(TIMES) == pytest.approx((INDEX.hour + INDEX.minute / 60).to_numpy(float))
    assert year_start_s(2024) == pd.Timestamp("2024-01-01", tz="UTC").timestamp()


@pytest.mark.parametrize("day", [1, 47, 172, 300, 365])
def test_the_equation_of_time_is_spencers(day):
    theirs = pvlib.solarposition.equation_of_time_spencer71(day)
    assert equation_of_time_min(day) == pytest.approx(float(theirs), abs=1e-9)
