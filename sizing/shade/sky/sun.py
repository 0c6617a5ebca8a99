"""The sun and the sky over a place through a year: samples of clear or measured light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizing.shade.scene.scene import ClearSky, FloatArray, Heat, HourlyWeather, Site, SkyModel
from sizing.shade.sky.sky_formulas import (
    HOUR_S,
    clear_sky,
    day_of_year,
    extra_radiation,
    hour_of_day,
    linke_turbidity,
    month_of_year,
    perez_shares,
    solar_position,
    year_start_s,
)


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


def year_samples(year: int, site: Site) -> FloatArray:
    """Return the middle of every hour of a local standard year as UTC seconds."""
    start = year_start_s(year)
    hours = round((year_start_s(year + 1) - start) / HOUR_S)
    return np.asarray(start - site.utc_offset_h * HOUR_S + HOUR_S * (np.arange(hours) + 0.5))


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
        month = int(month_of_year(time_utc_s)[0])
        turbidity = linke_turbidity(site.latitude_deg, site.longitude_deg)[month - 1]
        sky = ClearSky(linke_turbidity=turbidity, t_mean_c=20.0)
    return _clear_daylight(sky, site, time_utc_s, azimuth, apparent)


def _clear_daylight(
    sky: ClearSky, site: Site, times: FloatArray, azimuth: FloatArray, apparent: FloatArray
) -> Daylight:
    dni, dhi = clear_sky(apparent, sky.linke_turbidity, site.altitude_m, times)
    local = times + site.utc_offset_h * HOUR_S
    season = np.cos(2 * np.pi * (day_of_year(local) - 200) / 365)
    air = sky.t_mean_c + sky.t_season_c * season
    air = air + sky.t_daily_c * np.cos(2 * np.pi * (hour_of_day(local) - 15) / 24)
    made = HourlyWeather(
        times_utc_s=times,
        weight_h=np.ones(len(times)),
        ghi_w_m2=np.zeros(len(times)),
        dni_w_m2=dni * sky.beam_scale,
        dhi_w_m2=dhi * sky.diffuse_scale,
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
    local = weather.times_utc_s + site.utc_offset_h * HOUR_S
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
        month=month_of_year(local),
        hour=hour_of_day(local),
    )


def _sky_shares(weather: HourlyWeather, site: Site, elevation: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the shares of diffuse light around the sun and in the horizon band."""
    none = np.zeros(len(elevation))
    if weather.sky_model == SkyModel.ISOTROPIC:
        return none, none
    extra = extra_radiation(weather.times_utc_s)
    if weather.sky_model == SkyModel.HAYDAVIES:
        return np.clip(weather.dni_w_m2 / extra, 0.0, 1.0), none
    around, band = perez_shares(elevation, weather.dni_w_m2, weather.dhi_w_m2, extra)
    return np.clip(around, 0.0, 1.0), np.clip(band, -1.0, 1.0)
