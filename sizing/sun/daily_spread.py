"""How the days of a month scatter about their mean: poor, typical and fine."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from sizing.sun.sky import (
    MONTH_DAY,
    SOLAR_CONSTANT_KW_M2,
    month_extraterrestrial_kwh_m2,
    solar_elevation_deg,
)

DAYS: Final = 10  # equally likely days a month is spread over
CLEAR_SKY_HEADROOM: Final = 1.03  # best day over the clear-sky model [-]
SPREAD_SOURCE: Final = (
    "Bendt, Collares-Pereira and Rabl (1981), The frequency distribution of daily insolation values; "
    "capped at a clear day after Haurwitz (1945)"
)


def day_share(latitude_deg: float, month: int, psh_h: float, probability: float) -> float | None:
    """Return a day's light as a share of the month's mean; ``None`` in polar night.

    Parameters
    ----------
    latitude_deg : float
        North positive, -90 to 90. [°]
    month : int
        1 to 12. [-]
    psh_h : float
        The month's mean daily light on the flat. [kWh/m²·day]
    probability : float
        Share of days that are worse, 0 to 1: 0.1 is a poor day, 0.9 a fine one. [-]

    Returns
    -------
    float or None
        Light of that day over the month's mean. [-]

    Raises
    ------
    InputOutOfRange
        If the latitude or the month lies outside its range.

    Notes
    -----
    Says nothing about how many poor days come in a row, so it is no basis on its own for autonomy.

    References
    ----------
    .. [1] Bendt, Collares-Pereira and Rabl (1981), Solar Energy 27, 1-5.
    .. [2] Haurwitz (1945), Journal of Meteorology 2, 154-166.
    """
    days = days_as_shares(latitude_deg, month, psh_h)
    if not days:
        return None
    at = min(max(probability, 0.0), 1.0) * DAYS - 0.5
    low = min(max(math.floor(at), 0), DAYS - 2)
    return days[low] + (days[low + 1] - days[low]) * (at - low)


def days_as_shares(latitude_deg: float, month: int, psh_h: float) -> tuple[float, ...]:
    """Return the light of ten equally likely days over their mean, poorest first; none in polar night."""
    h0 = month_extraterrestrial_kwh_m2(latitude_deg, month)
    if h0 <= 0.05 or psh_h <= 0.02:
        return ()
    clearness = min(psh_h / h0, 0.82)
    days = _ten_days(round(clearness, 4), round(clear_day_clearness(round(latitude_deg, 2), month), 4))
    mean = sum(days) / len(days)
    return tuple(day / mean for day in days)


@lru_cache(maxsize=4096)
def clear_day_clearness(latitude_deg: float, month: int) -> float:
    """Return clear-sky over extraterrestrial light of a month's average day [-], after Haurwitz (1945)."""
    h0 = month_extraterrestrial_kwh_m2(latitude_deg, month)
    step_h = 0.25
    total = 0.0
    for step in range(int(24 / step_h)):
        sine = math.sin(
            math.radians(solar_elevation_deg(latitude_deg, MONTH_DAY[month - 1], step * step_h - 12))
        )
        if sine > 0.0:
            total += 1.098 * sine * math.exp(-0.057 / sine) * step_h
    return min(1.0, total / max(h0, SOLAR_CONSTANT_KW_M2 * 0.01))


@lru_cache(maxsize=4096)
def _ten_days(clearness: float, clear_day: float) -> tuple[float, ...]:
    """Return ten equally likely daily clearness values, poorest first."""
    kt = min(max(clearness, 0.10), 0.78)
    k_min = 0.05
    k_max = min(0.6313 + 0.267 * kt - 11.9 * (kt - 0.75) ** 8, CLEAR_SKY_HEADROOM * clear_day)
    k_max = max(k_max, kt + 0.02)
    xi = (k_max - k_min) / (k_max - kt)
    gamma = -1.498 + (1.184 * xi - 27.182 * math.exp(-1.5 * xi)) / (k_max - k_min)
    low, high = math.exp(gamma * k_min), math.exp(gamma * k_max)
    return tuple(math.log(low - (day + 0.5) / DAYS * (low - high)) / gamma for day in range(DAYS))
