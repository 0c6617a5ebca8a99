"""How twelve monthly means become days: ten equally likely days a month on its average date.

Days by Bendt, Collares-Pereira and Rabl (1981), their top at the clear sky; diffuse share by Erbs, Klein and
Duffie (1982), daily; hourly shapes by Collares-Pereira and Rabl (1979) and Liu and Jordan (1960); average
dates by Klein (1977).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from sizing.shade.scene.scene import FloatArray, HourlyWeather, MonthlyClimate, SceneError, Site
from sizing.shade.sky.sky_formulas import (
    clear_sky,
    equation_of_time_min,
    extra_radiation,
    linke_turbidity,
    solar_position,
    year_start_s,
)
from sizing.shade.sky.sun import Daylight, split_sky

MONTH_DAY: Final = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)  # Klein (1977)
MONTH_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
YEAR: Final = 2019
N_DAYS: Final = 10
STEP_H: Final = 0.5
STEPS: Final = 48
KT_TOP: Final = 0.82  # no month is clearer than this


def ten_days(kt: float, top: float, n: int = N_DAYS) -> FloatArray:
    """Return the clearness of n equally likely days with mean ``kt`` and none clearer than about ``top``.

    References
    ----------
    .. [1] Bendt, Collares-Pereira, Rabl (1981), Solar Energy 27, 1-5.
    """
    mean = float(np.clip(kt, 0.10, 0.78))
    low = 0.05
    high = max(min(0.6313 + 0.267 * mean - 11.9 * (mean - 0.75) ** 8, top), mean + 0.02)
    xi = (high - low) / (high - mean)
    gamma = -1.498 + (1.184 * xi - 27.182 * np.exp(-1.5 * xi)) / (high - low)
    rank = (np.arange(n) + 0.5) / n
    days = np.log(np.exp(gamma * low) - rank * (np.exp(gamma * low) - np.exp(gamma * high))) / gamma
    return np.asarray(days * kt / days.mean())


def daily_diffuse_share(kt: float, sunset_deg: float) -> float:
    """Return the diffuse share of a day (Erbs, Klein and Duffie, daily form)."""
    if sunset_deg <= 81.4:
        if kt >= 0.715:
            return 0.143
        return 1 - 0.2727 * kt + 2.4495 * kt**2 - 11.9514 * kt**3 + 9.3879 * kt**4
    return 0.175 if kt >= 0.722 else 1 + 0.2832 * kt - 2.5557 * kt**2 + 0.8448 * kt**3


def monthly_daylight(climate: MonthlyClimate, site: Site) -> Daylight:
    """Return daylight samples whose monthly light equals the climate's means."""
    days = np.repeat(np.asarray(MONTH_DAY) - 1, STEPS)
    clock = np.tile((np.arange(STEPS) + 0.5) * STEP_H, 12)
    start = year_start_s(YEAR) - site.utc_offset_h * 3600.0
    times = start + days * 86400.0 + clock * 3600.0
    azimuth, apparent, true = solar_position(times, site)
    rows: list[FloatArray] = []
    for month in range(12):
        span = slice(month * STEPS, (month + 1) * STEPS)
        rows += _month_rows(climate, site, month, times[span], clock[span], apparent[span], true[span])
    if not rows:
        raise SceneError("weather.ghi_kwh_m2_day", "has no light in the year")
    packed = np.vstack(rows)
    spot = np.searchsorted(times, packed[:, 0])
    weather = HourlyWeather(
        times_utc_s=packed[:, 0],
        weight_h=packed[:, 1],
        ghi_w_m2=packed[:, 2],
        dni_w_m2=packed[:, 3],
        dhi_w_m2=packed[:, 4],
        temp_air_c=packed[:, 5],
        wind_ms=np.full(len(packed), climate.wind_ms),
        heat=climate.heat,
        sky_model=climate.sky_model,
    )
    return split_sky(weather, site, azimuth[spot], apparent[spot])


def _month_rows(
    climate: MonthlyClimate,
    site: Site,
    month: int,
    times: FloatArray,
    clock: FloatArray,
    apparent: FloatArray,
    true: FloatArray,
) -> list[FloatArray]:
    """Return rows (time, weight, ghi, dni, dhi, air) of the month's ten days; none in polar night."""
    cosine = np.maximum(np.sin(np.radians(true)), 0.0)
    mean_day = climate.ghi_kwh_m2_day[month]
    above = float(np.sum(extra_radiation(times) * cosine) * STEP_H / 1000.0)
    if mean_day <= 0.02 or above <= 0.05:
        return []
    clear = _clear_day(site, month, times, apparent) * STEP_H / 1000.0
    if clear <= 0.02:
        return []
    day_of_year = MONTH_DAY[month]
    tilt = np.radians(23.45 * np.sin(np.radians(360.0 * (284 + day_of_year) / 365.0)))
    sunset = float(np.arccos(np.clip(-np.tan(np.radians(site.latitude_deg)) * np.tan(tilt), -1.0, 1.0)))
    minutes = equation_of_time_min(day_of_year)
    hour_angle = np.radians(15.0 * (clock - 12.0 - site.utc_offset_h) + site.longitude_deg + minutes / 4.0)
    global_shape, diffuse_shape = _shapes(hour_angle, sunset)
    air = _air(clock, climate.t_min_c[month], climate.t_max_c[month], apparent)
    clearness = ten_days(min(mean_day / above, KT_TOP), 1.03 * clear / above)
    up = apparent > 0.0
    weight = np.full(int(up.sum()), MONTH_DAYS[month] * STEP_H / N_DAYS)
    rows = []
    for kt in clearness:
        day_light = kt * mean_day / clearness.mean() * 1000.0
        ghi = global_shape * day_light
        share = daily_diffuse_share(float(kt), float(np.degrees(sunset)))
        dhi = np.minimum(diffuse_shape * day_light * share, ghi)
        dni = np.clip((ghi - dhi) / np.maximum(cosine, 0.05), 0.0, None)
        rows.append(np.column_stack([times[up], weight, ghi[up], dni[up], dhi[up], air[up]]))
    return rows


def _clear_day(site: Site, month: int, times: FloatArray, apparent: FloatArray) -> float:
    """Return the sum of clear-sky global light over the samples of a day [W/m²]."""
    turbidity = linke_turbidity(site.latitude_deg, site.longitude_deg)[month]
    dni, dhi = clear_sky(apparent, turbidity, site.altitude_m, times)
    return float(np.sum(dni * np.sin(np.radians(np.maximum(apparent, 0.0))) + dhi))


def _shapes(hour_angle: FloatArray, sunset: float) -> tuple[FloatArray, FloatArray]:
    """Return the parts of a day's global and diffuse light by sample; each sums to one day."""
    wrapped = (hour_angle + np.pi) % (2 * np.pi) - np.pi
    day = np.maximum(np.cos(wrapped) - np.cos(sunset), 0.0)
    a = 0.409 + 0.5016 * np.sin(sunset - np.pi / 3)
    b = 0.6609 - 0.4767 * np.sin(sunset - np.pi / 3)
    whole = (a + b * np.cos(wrapped)) * day
    return whole / max(whole.sum(), 1e-12) / STEP_H, day / max(day.sum(), 1e-12) / STEP_H


def _air(clock: FloatArray, t_min_c: float, t_max_c: float, apparent: FloatArray) -> FloatArray:
    """Return air temperature: cosine from the lowest at sunrise to the highest at 15 h."""
    up = np.flatnonzero(apparent > 0.0)
    sunrise = float(clock[up[0]]) if len(up) and len(up) < len(clock) else 5.0
    rise = np.clip((clock - sunrise) / max(15.0 - sunrise, 1.0), 0.0, 1.0)
    fall = np.clip((clock - 15.0) / max(24.0 + sunrise - 15.0, 1.0), 0.0, 1.0)
    share = np.where(clock <= 15.0, 0.5 - 0.5 * np.cos(np.pi * rise), 0.5 + 0.5 * np.cos(np.pi * fall))
    return t_min_c + (t_max_c - t_min_c) * share
