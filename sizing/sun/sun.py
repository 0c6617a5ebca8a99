"""Where the sun stands, how much light a plane gets and how warm its cells are; the work is pvlib's."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from sizing.core.inputs import InputOutOfRange


@dataclass(frozen=True, slots=True)
class SunPosition:
    """The sun at one moment: refracted zenith angle and azimuth clockwise from north. [°]"""

    apparent_zenith_deg: float
    azimuth_deg: float

    @property
    def apparent_elevation_deg(self) -> float:
        """Return the height above the horizon [°]."""
        return 90.0 - self.apparent_zenith_deg


@dataclass(frozen=True, slots=True)
class SunTimes:
    """When the sun rises, stands highest and sets on one day, in the zone that was asked in."""

    sunrise: datetime
    transit: datetime
    sunset: datetime


def solar_position(
    moment: datetime,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    temp_air_c: float = 12.0,
    pressure_pa: float | None = None,
) -> SunPosition:
    """Return where the sun stands.

    Parameters
    ----------
    moment : datetime
        With its time zone. [-]
    latitude_deg, longitude_deg : float
        North and east positive. [°]
    altitude_m : float
        Height above the sea. [m]
    temp_air_c : float
        Yearly mean air temperature, for refraction. [°C]
    pressure_pa : float or None
        Yearly mean air pressure; ``None`` takes it from the altitude. [Pa]

    Returns
    -------
    SunPosition
        Refracted zenith angle and azimuth. [°]

    Raises
    ------
    InputOutOfRange
        If the moment has no time zone or a coordinate lies outside its range.

    Notes
    -----
    Loads pvlib on first use, which takes seconds.

    References
    ----------
    .. [1] Reda and Andreas, Solar position algorithm, NREL/TP-560-34302 (2008), as in pvlib.
    """
    _ask_place(moment, latitude_deg, longitude_deg)
    import pandas as pd  # seconds to load, with pvlib
    from pvlib import solarposition

    found = solarposition.get_solarposition(
        pd.DatetimeIndex([moment]),
        latitude_deg,
        longitude_deg,
        altitude=altitude_m,
        pressure=pressure_pa,
        temperature=temp_air_c,
        method="nrel_numpy",
    )
    return SunPosition(float(found["apparent_zenith"].iloc[0]), float(found["azimuth"].iloc[0]))


def sun_times(day: datetime, *, latitude_deg: float, longitude_deg: float) -> SunTimes | None:
    """Return sunrise, transit and sunset of a day.

    Parameters
    ----------
    day : datetime
        Any moment of the day, with its time zone. [-]
    latitude_deg, longitude_deg : float
        North and east positive. [°]

    Returns
    -------
    SunTimes or None
        ``None`` in polar day or night. [-]

    Raises
    ------
    InputOutOfRange
        If the moment has no time zone or a coordinate lies outside its range.

    References
    ----------
    .. [1] Reda and Andreas, Solar position algorithm, NREL/TP-560-34302 (2008), as in pvlib.
    """
    _ask_place(day, latitude_deg, longitude_deg)
    import pandas as pd  # seconds to load, with pvlib
    from pvlib import solarposition

    found = solarposition.sun_rise_set_transit_spa(pd.DatetimeIndex([day]), latitude_deg, longitude_deg)
    moments = [found[name].iloc[0] for name in ("sunrise", "transit", "sunset")]
    if any(pd.isna(moment) for moment in moments):
        return None
    sunrise, transit, sunset = (moment.to_pydatetime(warn=False) for moment in moments)
    return SunTimes(sunrise, transit, sunset)


def incidence_deg(
    *, surface_tilt_deg: float, surface_azimuth_deg: float, solar_zenith_deg: float, solar_azimuth_deg: float
) -> float:
    """Return the angle between the sun and a plane's normal.

    Parameters
    ----------
    surface_tilt_deg, surface_azimuth_deg : float
        Tilt from the horizontal, and compass direction faced. [°]
    solar_zenith_deg, solar_azimuth_deg : float
        Where the sun stands. [°]

    Returns
    -------
    float
        0 when the sun stands straight above the plane, 90 along it. [°]

    Raises
    ------
    Nothing
        Any angles can be asked.

    References
    ----------
    .. [1] Reda and Andreas, NREL/TP-560-34302 (2008), equation 47.
    """
    tilt, zenith = math.radians(surface_tilt_deg), math.radians(solar_zenith_deg)
    turned = math.radians(solar_azimuth_deg - surface_azimuth_deg)
    cosine = math.cos(tilt) * math.cos(zenith) + math.sin(tilt) * math.sin(zenith) * math.cos(turned)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def poa_isotropic_w_m2(
    *,
    surface_tilt_deg: float,
    surface_azimuth_deg: float,
    solar_zenith_deg: float,
    solar_azimuth_deg: float,
    dni_w_m2: float,
    ghi_w_m2: float,
    dhi_w_m2: float,
    albedo: float = 0.2,
) -> float:
    """Return the light on a tilted plane under an evenly bright sky.

    Parameters
    ----------
    surface_tilt_deg, surface_azimuth_deg : float
        Tilt from the horizontal, and compass direction faced. [°]
    solar_zenith_deg, solar_azimuth_deg : float
        Where the sun stands. [°]
    dni_w_m2, ghi_w_m2, dhi_w_m2 : float
        Direct normal, global horizontal and diffuse horizontal irradiance, 0 or more. [W/m²]
    albedo : float
        Reflectance of the ground, 0 to 1. [-]

    Returns
    -------
    float
        Plane-of-array irradiance. [W/m²]

    Raises
    ------
    InputOutOfRange
        If an irradiance is negative or the albedo lies outside 0 to 1.

    References
    ----------
    .. [1] Isotropic sky model, as in pvlib ``irradiance.get_total_irradiance``.
    """
    if min(dni_w_m2, ghi_w_m2, dhi_w_m2) < 0:
        raise InputOutOfRange("irradiance", f"must be 0 W/m² or more, got {dni_w_m2}, {ghi_w_m2}, {dhi_w_m2}")
    if not 0.0 <= albedo <= 1.0:
        raise InputOutOfRange("albedo", f"must be 0 to 1, got {albedo}")
    from pvlib import irradiance

    found = irradiance.get_total_irradiance(
        surface_tilt_deg,
        surface_azimuth_deg,
        solar_zenith_deg,
        solar_azimuth_deg,
        dni_w_m2,
        ghi_w_m2,
        dhi_w_m2,
        albedo=albedo,
        model="isotropic",
    )
    return float(found["poa_global"])


def cell_temp_noct_c(temp_air_c: float, poa_global_w_m2: float, noct_c: float) -> float:
    """Return a cell temperature from the data sheet's nominal operating cell temperature.

    Parameters
    ----------
    temp_air_c : float
        Air temperature. [°C]
    poa_global_w_m2 : float
        Irradiance in the plane, 0 or more. [W/m²]
    noct_c : float
        Cell temperature at 800 W/m², 20 °C air and 1 m/s, 20 to 90. [°C]

    Returns
    -------
    float
        ``T_air + (NOCT - 20)/800·G``; a panel laid close to a roof runs hotter. [°C]

    Raises
    ------
    InputOutOfRange
        If the irradiance is negative or the NOCT lies outside 20 to 90 °C.

    References
    ----------
    .. [1] IEC 61215, nominal operating cell temperature, straight line through it.
    """
    if poa_global_w_m2 < 0:
        raise InputOutOfRange("poa_global_w_m2", f"must be 0 W/m² or more, got {poa_global_w_m2}")
    if not 20.0 <= noct_c <= 90.0:
        raise InputOutOfRange("noct_c", f"must be 20 to 90 °C, got {noct_c}")
    return temp_air_c + (noct_c - 20.0) / 800.0 * poa_global_w_m2


def cell_temp_sapm_c(
    poa_global_w_m2: float, temp_air_c: float, wind_speed_m_s: float, *, mounting: str
) -> float:
    """Return a cell temperature by the Sandia model for a known way of mounting.

    Parameters
    ----------
    poa_global_w_m2 : float
        Irradiance in the plane, 0 or more. [W/m²]
    temp_air_c : float
        Air temperature. [°C]
    wind_speed_m_s : float
        Wind, 0 or more. [m/s]
    mounting : str
        pvlib's name, such as ``close_mount_glass_glass`` or ``insulated_back_glass_polymer``. [-]

    Returns
    -------
    float
        Cell temperature. [°C]

    Raises
    ------
    InputOutOfRange
        If a number is negative or the mounting is unknown.

    References
    ----------
    .. [1] King, Boyson and Kratochvil (2004), SAND2004-3535, as in pvlib ``temperature.sapm_cell``.
    """
    from pvlib import temperature

    known = temperature.TEMPERATURE_MODEL_PARAMETERS["sapm"]
    if mounting not in known:
        raise InputOutOfRange("mounting", f"must be one of {', '.join(known)}, got {mounting!r}")
    if poa_global_w_m2 < 0 or wind_speed_m_s < 0:
        raise InputOutOfRange("poa_global_w_m2", "irradiance and wind must be 0 or more")
    return float(temperature.sapm_cell(poa_global_w_m2, temp_air_c, wind_speed_m_s, **known[mounting]))


def _ask_place(moment: datetime, latitude_deg: float, longitude_deg: float) -> None:
    if moment.tzinfo is None:
        raise InputOutOfRange("moment", "must carry its time zone")
    if not -90.0 <= latitude_deg <= 90.0:
        raise InputOutOfRange("latitude_deg", f"must be -90 to 90 °, got {latitude_deg}")
    if not -180.0 <= longitude_deg <= 180.0:
        raise InputOutOfRange("longitude_deg", f"must be -180 to 180 °, got {longitude_deg}")
