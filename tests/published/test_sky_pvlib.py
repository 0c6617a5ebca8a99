"""Light without weather against pvlib and against published monthly means.

Extraterrestrial light and the Haurwitz clear day are compared with pvlib's own functions summed over the day.
Monthly means: NREL Solar Radiation Data Manual 1961-1990, horizontal, annual values quoted from memory, ±0.1;
January means of three towns from a published table (3.1, 1.8, 1.6 kWh/m²·day).
"""

from __future__ import annotations

import pathlib

import numpy as np
import pandas as pd
import pvlib
import pytest
from pvlib import clearsky, iotools, irradiance, solarposition

import sizing
from sizing.sun.daily_spread import clear_day_clearness
from sizing.sun.sky import MONTH_DAY


def day_of(month: int, latitude_deg: float) -> pd.DataFrame:
    """Return the sun over a month's average day in five-minute steps on the prime meridian."""
    start = pd.Timestamp("2019-01-01", tz="UTC") + pd.Timedelta(days=MONTH_DAY[month - 1] - 1)
    index = pd.date_range(start + pd.Timedelta(minutes=2.5), periods=288, freq="5min")
    return solarposition.get_solarposition(index, latitude_deg, 0.0)


def extraterrestrial(sun: pd.DataFrame, month: int) -> float:
    """Return the day's extraterrestrial light on the flat by pvlib [kWh/m²]."""
    up = np.cos(np.radians(sun["zenith"])).clip(lower=0)
    return float(irradiance.get_extra_radiation(MONTH_DAY[month - 1]) * up.sum() / 12 / 1000)


@pytest.mark.parametrize("latitude_deg", [-40.0, 0.0, 25.0, 45.0, 60.0])
@pytest.mark.parametrize("month", [3, 6, 12])
def test_extraterrestrial_light_agrees_with_pvlib(latitude_deg, month):
    """Cooper's declination and 1.367 kW/m² against Spencer's and SPA: within 2.5 %, or 0.2 kWh/m²."""
    theirs = extraterrestrial(day_of(month, latitude_deg), month)
    ours = sizing.extraterrestrial_kwh_m2(latitude_deg, MONTH_DAY[month - 1])
    assert ours == pytest.approx(theirs, rel=0.025, abs=0.2)


@pytest.mark.parametrize("latitude_deg", [-40.0, 25.0, 45.0])
@pytest.mark.parametrize("month", [1, 6, 10])
def test_clear_day_agrees_with_haurwitz_in_pvlib(latitude_deg, month):
    sun = day_of(month, latitude_deg)
    clear = float(clearsky.haurwitz(sun["apparent_zenith"])["ghi"].sum() / 12 / 1000)
    theirs = clear / extraterrestrial(sun, month)
    assert clear_day_clearness(latitude_deg, month) == pytest.approx(theirs, rel=0.03)


@pytest.mark.parametrize(
    ("town", "latitude_deg", "longitude_deg", "annual"),
    [
        ("Phoenix AZ", 33.43, -112.02, 5.74),
        ("Las Vegas NV", 36.08, -115.17, 5.65),
        ("Miami FL", 25.80, -80.27, 4.85),
        ("Boston MA", 42.37, -71.03, 3.91),
        ("Chicago IL", 41.78, -87.75, 3.88),
        ("Fairbanks AK", 64.82, -147.87, 2.47),
    ],
)
def test_grid_against_the_solar_radiation_data_manual(town, latitude_deg, longitude_deg, annual):
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    months = np.array(sizing.climate_at(latitude_deg, longitude_deg).ghi_kwh_m2_day)
    assert float((months * days).sum() / 365) == pytest.approx(annual, rel=0.05), town


@pytest.mark.parametrize(
    ("town", "latitude_deg", "longitude_deg", "january"),
    [("Daytona Beach", 29.18, -81.05, 3.1), ("Chicago", 41.78, -87.75, 1.8), ("Alpena", 45.07, -83.57, 1.6)],
)
def test_grid_against_published_january_means(town, latitude_deg, longitude_deg, january):
    assert sizing.climate_at(latitude_deg, longitude_deg).ghi_kwh_m2_day[0] == pytest.approx(
        january, abs=0.2
    ), town


@pytest.mark.parametrize(
    ("name", "quantile", "worst_rms"),
    [
        ("723170TYA.CSV", 0.1, 0.15),
        ("723170TYA.CSV", 0.5, 0.08),
        ("723170TYA.CSV", 0.9, 0.15),
        ("703165TY.csv", 0.1, 0.25),
        ("703165TY.csv", 0.5, 0.15),
        ("703165TY.csv", 0.9, 0.20),
    ],
)
def test_poor_typical_and_fine_days_against_two_typical_years(name, quantile, worst_rms):
    """Daily light as a share of the month's mean in the two NREL TMY3 files that ship with pvlib.

    Greensboro NC and Sand Point AK; root mean square over the months. Poor days come out 0.07 of the mean too
    poor in the first and 0.18 in the second, which is the safe side.
    """
    frame, about = iotools.read_tmy3(
        pathlib.Path(pvlib.__file__).parent / "data" / name, coerce_year=2019, map_variables=True
    )
    days = frame["ghi"].groupby((frame.index - pd.Timedelta(minutes=30)).date).sum() / 1000
    months = np.array([day.month for day in days.index])
    misses = []
    for month in range(1, 13):
        light = days.to_numpy()[months == month]
        mean = float(light.mean())
        share = sizing.day_share(about["latitude"], month, mean, quantile)
        misses.append(share - float(np.quantile(light, quantile)) / mean)
    assert float(np.sqrt(np.mean(np.square(misses)))) < worst_rms
