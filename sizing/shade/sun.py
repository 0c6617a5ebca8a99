"""Knows the sun and the sky over a place through a year: pvlib's sun and clear sky, our samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pvlib

from sizing.shade.scene import ClearSky, FloatArray, Heat, HourlyWeather, Site, SkyModel

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True, eq=False)
class Daylight:
    """Samples with the sun up. ``dni`` includes light from around the sun, ``dhi`` is the even rest."""

    time_utc_s: FloatArray
    weight_h: FloatArray
    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    dhi_horizon_w_m2: FloatArray
    ghi_w_m2: FloatArray
    temp_air_c: FloatArray
    u_w_m2k: FloatArray
    iam_diffuse: float
    month: FloatArray  # 1 to 12, local standard
    hour: FloatArray  # of the day, local standard

    @property
    def n(self) -> int:
        """Number of samples."""
        return len(self.time_utc_s)


def solar_position(time_utc_s: FloatArray, site: Site) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return azimuth, apparent elevation and true elevation [°] at UTC times.

    References
    ----------
    .. [1] Reda and Andreas, Solar position algorithm for solar radiation applications, NREL/TP-560-34302.
    """
    index = pd.DatetimeIndex(pd.to_datetime(np.round(time_utc_s).astype(np.int64), unit="s", utc=True))
    found = pvlib.solarposition.get_solarposition(
        index,
        site.latitude_deg,
        site.longitude_deg,
        altitude=site.altitude_m,
        method="nrel_numpy",
        temperature=12,
    )
    return (
        found["azimuth"].to_numpy(float),
        found["apparent_elevation"].to_numpy(float),
        found["elevation"].to_numpy(float),
    )


def reflection(cos_incidence: FloatArray) -> FloatArray:
    """Return the share of beam that enters the glass (pvlib's physical model with its defaults)."""
    angle = np.degrees(np.arccos(np.clip(cos_incidence, 0.0, 1.0)))
    return np.asarray(pvlib.iam.physical(angle), dtype=float)


def extra_radiation(index: pd.DatetimeIndex) -> FloatArray:
    """Return the sun's normal light above the air [W/m²] (Spencer 1971, through pvlib) at UTC times."""
    return np.asarray(pvlib.irradiance.get_extra_radiation(index.day_of_year.to_numpy(float)), dtype=float)


def year_samples(year: int, site: Site) -> FloatArray:
    """Return the middle of every hour of a local standard year as UTC seconds."""
    start = pd.Timestamp(f"{year}-01-01", tz="UTC").timestamp() - site.utc_offset_h * HOUR_S
    days = 366 if pd.Timestamp(f"{year}-01-01").is_leap_year else 365
    return np.asarray(start + HOUR_S * (np.arange(days * 24) + 0.5))


def clear_sky_daylight(sky: ClearSky, site: Site) -> Daylight:
    """Return a year under the Ineichen and Perez clear sky with cosine air temperatures.

    References
    ----------
    .. [1] Ineichen and Perez (2002), Airmass independent formulation for Linke turbidity, Solar Energy 73.
    """
    times = year_samples(sky.year, site)
    azimuth, apparent, _ = solar_position(times, site)
    up = apparent > 0
    return _clear_daylight(sky, site, times[up], azimuth[up], apparent[up])


def clear_moment(sky: ClearSky | None, site: Site, time_utc_s: FloatArray) -> Daylight:
    """Return the clear sky of given moments, dark where the sun is down.

    Without a sky of its own the place's turbidity of that month is looked up and the air is 20 °C.
    """
    azimuth, apparent, _ = solar_position(time_utc_s, site)
    if sky is None:
        index = pd.DatetimeIndex(pd.to_datetime(time_utc_s.astype(np.int64), unit="s", utc=True))
        found = pvlib.clearsky.lookup_linke_turbidity(
            index, site.latitude_deg, site.longitude_deg, interp_turbidity=False
        )
        sky = ClearSky(linke_turbidity=float(found.iloc[0]), t_mean_c=20.0, sky_model=SkyModel.ISOTROPIC)
    return _clear_daylight(sky, site, time_utc_s, azimuth, apparent)


def _clear_daylight(
    sky: ClearSky, site: Site, times: FloatArray, azimuth: FloatArray, apparent: FloatArray
) -> Daylight:
    pressure = pvlib.atmosphere.alt2pres(site.altitude_m)
    airmass = pvlib.atmosphere.get_relative_airmass(90.0 - apparent)
    index = pd.DatetimeIndex(pd.to_datetime(times.astype(np.int64), unit="s", utc=True))
    local = index + pd.Timedelta(hours=site.utc_offset_h)
    with np.errstate(divide="ignore", invalid="ignore"):
        clear = pvlib.clearsky.ineichen(
            90.0 - apparent,
            pvlib.atmosphere.get_absolute_airmass(airmass, pressure),
            sky.linke_turbidity,
            altitude=site.altitude_m,
            dni_extra=extra_radiation(index),
        )
    up = apparent > 0.0
    hour = (local.hour + local.minute / 60.0).to_numpy(float)
    season = np.cos(2 * np.pi * (local.day_of_year.to_numpy(float) - 200) / 365)
    air = sky.t_mean_c + sky.t_season_c * season + sky.t_daily_c * np.cos(2 * np.pi * (hour - 15) / 24)
    made = HourlyWeather(
        times_utc_s=times,
        weight_h=np.ones(len(times)),
        ghi_w_m2=np.zeros(len(times)),
        dni_w_m2=np.where(up, np.nan_to_num(np.asarray(clear["dni"], float)) * sky.beam_scale, 0.0),
        dhi_w_m2=np.where(up, np.nan_to_num(np.asarray(clear["dhi"], float)) * sky.diffuse_scale, 0.0),
        temp_air_c=air,
        wind_ms=np.full(len(times), sky.wind_ms),
        heat=sky.heat,
        sky_model=sky.sky_model,
    )
    return split_sky(made, site, azimuth, apparent)


def split_sky(weather: HourlyWeather, site: Site, azimuth: FloatArray, elevation: FloatArray) -> Daylight:
    """Return daylight with the sky's diffuse light split into the part around the sun and the even rest.

    Perez also gives a band at the horizon, which only tilted panels see.

    References
    ----------
    .. [1] Hay and Davies (1980); Perez, Ineichen, Seals, Michalsky, Stewart (1990), through pvlib.
    """
    sine = np.sin(np.radians(elevation))
    around, band = _sky_shares(weather, site, elevation)
    dhi = weather.dhi_w_m2
    index = pd.DatetimeIndex(pd.to_datetime(weather.times_utc_s.astype(np.int64), unit="s", utc=True))
    local = index + pd.Timedelta(hours=site.utc_offset_h)
    heat: Heat = weather.heat
    return Daylight(
        time_utc_s=weather.times_utc_s,
        weight_h=weather.weight_h,
        azimuth_deg=azimuth,
        elevation_deg=elevation,
        dni_w_m2=weather.dni_w_m2 + around * dhi / np.maximum(sine, 0.0174524),
        dhi_w_m2=dhi * (1.0 - around * sine / np.maximum(sine, 0.0174524)),
        dhi_horizon_w_m2=dhi * band,
        ghi_w_m2=weather.dni_w_m2 * sine + dhi,
        temp_air_c=weather.temp_air_c,
        u_w_m2k=heat.u0_w_m2k + heat.u1_ws_m3k * weather.wind_ms,
        iam_diffuse=heat.iam_diffuse,
        month=local.month.to_numpy(float),
        hour=(local.hour + local.minute / 60.0).to_numpy(float),
    )


def _sky_shares(weather: HourlyWeather, site: Site, elevation: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the shares of diffuse light around the sun and in the horizon band."""
    none = np.zeros(len(elevation))
    if weather.sky_model == SkyModel.ISOTROPIC:
        return none, none
    index = pd.DatetimeIndex(pd.to_datetime(weather.times_utc_s.astype(np.int64), unit="s", utc=True))
    extra = extra_radiation(index)
    if weather.sky_model == SkyModel.HAYDAVIES:
        return np.clip(weather.dni_w_m2 / extra, 0.0, 1.0), none
    zenith = 90.0 - elevation
    airmass = np.asarray(pvlib.atmosphere.get_relative_airmass(zenith), float)
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = pvlib.irradiance.perez(
            90.0,
            180.0,
            weather.dhi_w_m2,
            weather.dni_w_m2,
            extra,
            zenith,
            0.0,
            airmass,
            return_components=True,
        )
        flat = pvlib.irradiance.perez(
            0.0,
            180.0,
            weather.dhi_w_m2,
            weather.dni_w_m2,
            extra,
            zenith,
            0.0,
            airmass,
            return_components=True,
        )
        dhi = np.maximum(weather.dhi_w_m2, 1e-9)
        around = np.nan_to_num(np.asarray(flat["poa_circumsolar"], float) / dhi)
        band = np.nan_to_num(np.asarray(parts["poa_horizon"], float) / dhi)
    return np.clip(around, 0.0, 1.0), np.clip(band, -1.0, 1.0)
