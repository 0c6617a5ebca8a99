"""How weather becomes daylight samples: clear sky, typical-year files, twelve months of climate."""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from sizing.shade.scene.scene import (
    ClearSky,
    ClimateGrid,
    HourlyWeather,
    MonthlyClimate,
    SceneError,
    SceneInput,
    Site,
    WeatherFile,
)
from sizing.shade.sky.months import monthly_daylight
from sizing.shade.sky.plain_years import FILE_YEAR, NAMES, FileYear, plain_year
from sizing.shade.sky.sky_formulas import HOUR_S, solar_position
from sizing.shade.sky.sun import Daylight, clear_sky_daylight, split_sky
from sizing.sun.climate import climate_at

MIDDLE_H = -0.5  # EPW and TMY3 rows are stamped at the end of the hour


def daylight_for(scene: SceneInput) -> Daylight:
    """Return the daylight of a scene's weather at its site.

    Raises
    ------
    SceneError
        If a weather file cannot be read or lacks light, or the climate table has no value at the site.
    """
    weather, site = scene.weather, scene.site
    if isinstance(weather, ClearSky):
        return clear_sky_daylight(weather, site)
    if isinstance(weather, WeatherFile):
        return hourly_daylight(weather_from_file(weather), site)
    if isinstance(weather, HourlyWeather):
        return hourly_daylight(weather, site)
    return monthly_daylight(_climate(weather, site) if isinstance(weather, ClimateGrid) else weather, site)


def _climate(weather: ClimateGrid, site: Site) -> MonthlyClimate:
    point = climate_at(site.latitude_deg, site.longitude_deg, site.altitude_m)
    if point is None:
        raise SceneError(
            "location", "lies outside the climate table (open sea or polar): give monthly values"
        )
    return MonthlyClimate(
        ghi_kwh_m2_day=point.ghi_kwh_m2_day,
        t_min_c=point.temp_air_min_c,
        t_max_c=point.temp_air_max_c,
        wind_ms=weather.wind_ms,
        heat=weather.heat,
        sky_model=weather.sky_model,
    )


def hourly_daylight(weather: HourlyWeather, site: Site) -> Daylight:
    """Return daylight of samples in memory; samples with the sun down are dropped."""
    azimuth, apparent, _ = solar_position(weather.times_utc_s, site)
    up = apparent > 0
    kept = HourlyWeather(
        times_utc_s=weather.times_utc_s[up],
        weight_h=weather.weight_h[up],
        ghi_w_m2=weather.ghi_w_m2[up],
        dni_w_m2=weather.dni_w_m2[up],
        dhi_w_m2=weather.dhi_w_m2[up],
        temp_air_c=weather.temp_air_c[up],
        wind_ms=weather.wind_ms[up],
        heat=weather.heat,
        sky_model=weather.sky_model,
    )
    if not np.any(kept.dni_w_m2 + kept.dhi_w_m2 > 0.0):
        raise SceneError("weather", "has no light in the year")
    return split_sky(kept, site, azimuth[up], apparent[up])


def weather_from_file(source: WeatherFile) -> HourlyWeather:
    """Return the samples of a typical-year file; what is not of the plain form is read by pvlib.

    Parameters
    ----------
    source : WeatherFile
        Path (gzip allowed) and format: ``epw``, ``tmy3`` or ``pvgis_tmy`` (csv).

    Returns
    -------
    HourlyWeather
        One sample an hour, stamped at the middle of the hour it stands for. [W/m²], [°C], [m/s]

    Raises
    ------
    SceneError
        If the file cannot be read as that format or has gaps in its light or temperature.

    Notes
    -----
    EPW and TMY3 rows end their hour, so the middle is 30 minutes earlier; PVGIS rows are instants in UTC,
    moved by the offset given in the header.

    References
    ----------
    .. [1] NREL/TP-581-43156, Users manual for TMY3 data sets; EnergyPlus auxiliary programs (EPW);
       PVGIS typical meteorological year, European Commission JRC.
    """
    try:
        raw = _unpacked(source)
        year = plain_year(source.format, raw) or _by_pvlib(source, raw)
        shift_h = _pvgis_offset(raw) if source.format == "pvgis_tmy" else MIDDLE_H
    except (OSError, ValueError, KeyError, IndexError, TypeError, EOFError) as trouble:
        raise SceneError("weather.path", f"cannot be read as {source.format}: {trouble}") from trouble
    light = year.columns
    missing = [name for name in NAMES if name not in light or np.isnan(light[name]).any()]
    if missing or len(year.stamps_utc_s) < 24:
        raise SceneError(
            "weather.path", f"lacks values of {', '.join(missing) or 'a whole day'}: {source.path}"
        )
    if max(light["ghi"].max(), light["dni"].max()) > 2000.0 or light["temp_air"].max() > 70.0:
        raise SceneError("weather.path", f"holds light over 2000 W/m² or air over 70 °C: {source.path}")
    return HourlyWeather(
        times_utc_s=year.stamps_utc_s + shift_h * HOUR_S,
        weight_h=np.ones(len(year.stamps_utc_s)),
        ghi_w_m2=np.maximum(light["ghi"], 0.0),
        dni_w_m2=np.maximum(light["dni"], 0.0),
        dhi_w_m2=np.maximum(light["dhi"], 0.0),
        temp_air_c=light["temp_air"],
        wind_ms=np.maximum(light["wind_speed"], 0.0),
        heat=source.heat,
        sky_model=source.sky_model,
    )


def _unpacked(source: WeatherFile) -> bytes:
    raw = Path(source.path).read_bytes()
    return gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw


def _by_pvlib(source: WeatherFile, raw: bytes) -> FileYear:
    """Return what pvlib's reader finds in a file; columns that it lacks are left out."""
    import pvlib

    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "weather.csv"
        plain.write_bytes(raw)
        if source.format == "epw":
            frame = pvlib.iotools.read_epw(str(plain), coerce_year=FILE_YEAR)[0]
        elif source.format == "tmy3":
            frame = pvlib.iotools.read_tmy3(str(plain), coerce_year=FILE_YEAR)[0]
        else:
            frame = _on_one_year(pvlib.iotools.read_pvgis_tmy(str(plain), pvgis_format="csv")[0])
    stamps = frame.index.tz_convert("UTC").tz_localize(None).to_numpy()
    seconds = (stamps - np.datetime64("1970-01-01")) / np.timedelta64(1, "s")
    columns = {name: frame[name].to_numpy(float) for name in NAMES if name in frame}
    return FileYear(np.asarray(seconds, float), columns)


def _pvgis_offset(raw: bytes) -> float:
    """Return how far PVGIS's satellite picture is from the full hour [h], as the head says."""
    for line in raw.splitlines()[:6]:
        if line.lower().startswith(b"irradiance time offset"):
            return float(line.split(b":")[1])
    return 0.0


def _on_one_year(frame: Any) -> Any:
    import pandas as pd

    stamps = frame.index.tz_convert("UTC") if frame.index.tz is not None else frame.index.tz_localize("UTC")
    keep = ~((stamps.month == 2) & (stamps.day == 29))
    frame, stamps = frame[keep], stamps[keep]
    frame.index = pd.DatetimeIndex([stamp.replace(year=FILE_YEAR) for stamp in stamps])
    return frame
