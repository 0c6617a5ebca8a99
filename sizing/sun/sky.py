"""The sun of an average day without any weather: declination, extraterrestrial light, elevation."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from sizing.core.inputs import InputOutOfRange

SOLAR_CONSTANT_KW_M2: Final = 1.367  # total solar irradiance as used by Duffie and Beckman [kW/m²]
#: Recommended average day of each month, Klein (1977). [day of year]
MONTH_DAY: Final = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
MONTH_NAMES: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def declination_deg(day_of_year: int) -> float:
    """Return the sun's declination [°] by Cooper's equation."""
    return 23.45 * math.sin(math.radians(360.0 * (284 + day_of_year) / 365.0))


def sunset_hour_angle_rad(latitude_deg: float, day_of_year: int) -> float:
    """Return the hour angle of sunset [rad]: 0 in polar night, π under a midnight sun."""
    latitude = math.radians(max(-89.999, min(89.999, latitude_deg)))
    declination = math.radians(declination_deg(day_of_year))
    return math.acos(max(-1.0, min(1.0, -math.tan(latitude) * math.tan(declination))))


@lru_cache(maxsize=4096)
def extraterrestrial_kwh_m2(latitude_deg: float, day_of_year: int) -> float:
    """Return the daily extraterrestrial irradiation on a horizontal plane.

    Parameters
    ----------
    latitude_deg : float
        North positive, -90 to 90. [°]
    day_of_year : int
        1 to 366. [-]

    Returns
    -------
    float
        Energy of one day above the atmosphere. [kWh/m²]

    Raises
    ------
    InputOutOfRange
        If the latitude lies outside -90 to 90° or the day outside 1 to 366.

    Notes
    -----
    ``H0 = (24/π)·1.367·(1 + 0.033·cos(2πn/365))·(cosφ·cosδ·sinωs + ωs·sinφ·sinδ)`` [1]_.

    References
    ----------
    .. [1] Duffie and Beckman, Solar Engineering of Thermal Processes, equation 1.10.3.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise InputOutOfRange("latitude_deg", f"must be -90 to 90 °, got {latitude_deg}")
    if not 1 <= day_of_year <= 366:
        raise InputOutOfRange("day_of_year", f"must be 1 to 366, got {day_of_year}")
    phi, delta = math.radians(latitude_deg), math.radians(declination_deg(day_of_year))
    omega_s = sunset_hour_angle_rad(latitude_deg, day_of_year)
    eccentricity = 1.0 + 0.033 * math.cos(2.0 * math.pi * day_of_year / 365.0)
    height = math.cos(phi) * math.cos(delta) * math.sin(omega_s) + omega_s * math.sin(phi) * math.sin(delta)
    return max(0.0, 24.0 / math.pi * SOLAR_CONSTANT_KW_M2 * eccentricity * height)


def month_extraterrestrial_kwh_m2(latitude_deg: float, month: int) -> float:
    """Return the daily extraterrestrial irradiation of a month's average day [kWh/m²]; month 1 to 12."""
    if not 1 <= month <= 12:
        raise InputOutOfRange("month", f"must be 1 to 12, got {month}")
    return extraterrestrial_kwh_m2(latitude_deg, MONTH_DAY[month - 1])


@lru_cache(maxsize=4096)
def hour_shares(latitude_deg: float, month: int) -> tuple[float, ...]:
    """Return the share of a day's light on the flat that falls in each hour of sun; they add up to 1.

    Parameters
    ----------
    latitude_deg : float
        North positive, -90 to 90. [°]
    month : int
        1 to 12; its average day is taken. [-]

    Returns
    -------
    tuple of float
        One share per hour with sun, morning first; empty in polar night. [-]

    Raises
    ------
    Nothing
        Any month can be asked.

    Notes
    -----
    ``r = π/24·(a + b·cos ω)·(cos ω - cos ω_s)/(sin ω_s - ω_s·cos ω_s)`` with ``a = 0.409 +
    0.5016·sin(ω_s - 60°)`` and ``b = 0.6609 - 0.4767·sin(ω_s - 60°)``, at the middle of each hour.

    References
    ----------
    .. [1] Collares-Pereira and Rabl (1979), Solar Energy 22, 155-164, as in Duffie and Beckman, Solar
       Engineering of Thermal Processes, equations 2.13.2.
    """
    sunset = sunset_hour_angle_rad(latitude_deg, MONTH_DAY[month - 1])
    if sunset <= 0.0:
        return ()
    beyond = math.sin(sunset - math.radians(60.0))
    a, b = 0.409 + 0.5016 * beyond, 0.6609 - 0.4767 * beyond
    angles = (math.radians(15.0 * (hour + 0.5)) for hour in range(-12, 12))
    found = [
        (a + b * math.cos(angle)) * (math.cos(angle) - math.cos(sunset))
        for angle in angles
        if abs(angle) < sunset
    ]
    total = sum(found)
    return tuple(each / total for each in found) if total > 0.0 else ()


def solar_elevation_deg(latitude_deg: float, day_of_year: int, hours_from_noon_h: float) -> float:
    """Return the sun's elevation so many hours before or after solar noon.

    Parameters
    ----------
    latitude_deg : float
        North positive, -90 to 90. [°]
    day_of_year : int
        1 to 366. [-]
    hours_from_noon_h : float
        Hours from solar noon, either way. [h]

    Returns
    -------
    float
        Elevation, negative below the horizon. [°]

    Raises
    ------
    Nothing
        Any hour can be asked.

    References
    ----------
    .. [1] Duffie and Beckman, Solar Engineering of Thermal Processes, equation 1.6.5.
    """
    phi, delta = math.radians(latitude_deg), math.radians(declination_deg(day_of_year))
    hour_angle = math.radians(15.0 * hours_from_noon_h)
    sine = math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.cos(hour_angle)
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def shadow_length_m(obstacle_height_m: float, panel_top_m: float, elevation_deg: float) -> float:
    """Return how far the shadow of an obstacle reaches on a panel's plane (F23).

    Parameters
    ----------
    obstacle_height_m, panel_top_m : float
        Heights over the roof skin, 0 or more. [m]
    elevation_deg : float
        Elevation of the sun, above 0 to 90. [°]

    Returns
    -------
    float
        ``(h_obstacle - h_panel)/tan(elevation)``, 0 where the obstacle is lower. [m]

    Raises
    ------
    InputOutOfRange
        If the elevation is not above 0 and up to 90°, or a height is negative.

    References
    ----------
    .. [1] Plane geometry; no source needed.
    """
    if not 0.0 < elevation_deg <= 90.0:
        raise InputOutOfRange("elevation_deg", f"must be above 0 and up to 90 °, got {elevation_deg}")
    if obstacle_height_m < 0 or panel_top_m < 0:
        raise InputOutOfRange(
            "height_m", f"heights must be 0 m or more, got {obstacle_height_m}, {panel_top_m}"
        )
    return max(0.0, obstacle_height_m - panel_top_m) / math.tan(math.radians(elevation_deg))


def tilt_gain(
    latitude_deg: float, month: int, tilt_deg: float, *, diffuse: float = 0.35, albedo: float = 0.2
) -> float:
    """Return what a panel tilted to the equator gains over a flat one on a month's average day.

    Parameters
    ----------
    latitude_deg : float
        North positive, -66 to 66 (no polar night). [°]
    month : int
        1 to 12. [-]
    tilt_deg : float
        Tilt from the horizontal, 0 to 90. [°]
    diffuse, albedo : float
        Diffuse share of the day's light and reflectance of the ground, 0 to 1. [-]

    Returns
    -------
    float
        Irradiation on the tilted plane over that on the flat. [-]

    Raises
    ------
    InputOutOfRange
        If the latitude lies outside -66 to 66°, the tilt outside 0 to 90° or a share outside 0 to 1.

    Notes
    -----
    ``R = (1 - d)·Rb + d·(1 + cosβ)/2 + ρ·(1 - cosβ)/2`` with the daily beam ratio ``Rb`` [1]_.

    References
    ----------
    .. [1] Liu and Jordan (1962) as in Duffie and Beckman, Solar Engineering of Thermal Processes, 2.19.
    """
    if not -66.0 <= latitude_deg <= 66.0:
        raise InputOutOfRange("latitude_deg", f"must be -66 to 66 °, got {latitude_deg}")
    if not 0.0 <= tilt_deg <= 90.0:
        raise InputOutOfRange("tilt_deg", f"must be 0 to 90 °, got {tilt_deg}")
    if not (0.0 <= diffuse <= 1.0 and 0.0 <= albedo <= 1.0):
        raise InputOutOfRange("diffuse", f"diffuse share and albedo must be 0 to 1, got {diffuse}, {albedo}")
    cos_tilt = math.cos(math.radians(tilt_deg))
    beam = _daily_beam_ratio(latitude_deg, MONTH_DAY[month - 1], tilt_deg)
    return (1 - diffuse) * beam + diffuse * (1 + cos_tilt) / 2 + albedo * (1 - cos_tilt) / 2


def _daily_beam_ratio(latitude_deg: float, day_of_year: int, tilt_deg: float) -> float:
    """Return Rb of a plane tilted to the equator: the day's beam over that on the flat."""
    toward = latitude_deg - math.copysign(tilt_deg, latitude_deg)
    phi, tilted, delta = map(math.radians, (latitude_deg, toward, declination_deg(day_of_year)))
    sunset = sunset_hour_angle_rad(latitude_deg, day_of_year)
    leaves = min(sunset, sunset_hour_angle_rad(toward, day_of_year))
    above = math.cos(tilted) * math.cos(delta) * math.sin(leaves) + leaves * math.sin(tilted) * math.sin(
        delta
    )
    flat = math.cos(phi) * math.cos(delta) * math.sin(sunset) + sunset * math.sin(phi) * math.sin(delta)
    return max(0.0, above) / flat
