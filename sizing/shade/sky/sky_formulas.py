"""Sun and clear sky without the seconds that importing all of pvlib takes.

The sun is pvlib's own solar position module, loaded alone; the turbidity table is the one bundled with pvlib.
The other formulas are short and held to pvlib's answers by test. A worker's first answer may not wait for
pandas, SciPy and the file readers that it does not need.
"""

from __future__ import annotations

import importlib
import importlib.util
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from sizing.shade.scene.scene import FloatArray, Site

HOUR_S = 3600.0
DAY_S = 86400.0
SOLAR_CONSTANT_W_M2 = 1366.1  # as pvlib's Spencer form takes it
SEA_PRESSURE_PA = 101325.0
GLASS_INDEX, GLASS_EXTINCTION, GLASS_M = 1.526, 4.0, 0.002  # pvlib.iam.physical's defaults
#: Perez and others (1990), table 6: brightening by clearness of the sky, around the sun and at the horizon.
CLEARNESS = (1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2)
BRIGHTENING = np.array(
    [
        [-0.008, 0.588, -0.062, -0.060, 0.072, -0.022],
        [0.130, 0.683, -0.151, -0.019, 0.066, -0.029],
        [0.330, 0.487, -0.221, 0.055, -0.064, -0.026],
        [0.568, 0.187, -0.295, 0.109, -0.152, -0.014],
        [0.873, -0.392, -0.362, 0.226, -0.462, 0.001],
        [1.132, -1.237, -0.412, 0.288, -0.823, 0.056],
        [1.060, -1.600, -0.359, 0.264, -1.127, 0.131],
        [0.678, -0.327, -0.250, 0.156, -1.377, 0.251],
    ]
)
REFRACTION_DEG = 0.5667  # at the horizon
DELTA_T_S = 67.0
AIR_C = 12.0


def _pvlib_folder() -> Path:
    spec = importlib.util.find_spec("pvlib")
    assert spec is not None
    assert spec.submodule_search_locations
    return Path(spec.submodule_search_locations[0])


@lru_cache(maxsize=1)
def _spa() -> Any:
    """Return pvlib's solar position module, loaded without its package."""
    spec = importlib.util.spec_from_file_location("_shade_spa", _pvlib_folder() / "spa.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def solar_position(time_utc_s: FloatArray, site: Site) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return azimuth, apparent elevation and true elevation [°] at UTC times, to the second.

    References
    ----------
    .. [1] Reda and Andreas, Solar position algorithm for solar radiation applications, NREL/TP-560-34302.
    """
    found = _spa().solar_position(
        np.round(time_utc_s), site.latitude_deg, site.longitude_deg, site.altitude_m,
        pressure_pa(site.altitude_m) / 100.0, AIR_C, DELTA_T_S, REFRACTION_DEG,
    )  # fmt: skip
    return np.asarray(found[4], float), np.asarray(found[2], float), np.asarray(found[3], float)


def pressure_pa(altitude_m: float) -> float:
    """Return the standard atmosphere's pressure [Pa]."""
    return float(100.0 * ((44331.514 - altitude_m) / 11880.516) ** (1.0 / 0.1902632))


def relative_airmass(elevation_deg: FloatArray) -> FloatArray:
    """Return the relative air mass (Kasten and Young 1989); nan with the sun down."""
    up = np.where(elevation_deg >= 0.0, elevation_deg, np.nan)
    return np.asarray(1.0 / (np.sin(np.radians(up)) + 0.50572 * (6.07995 + up) ** -1.6364))


def day_of_year(time_utc_s: FloatArray) -> FloatArray:
    """Return the day of the year, 1 to 366, of UTC times."""
    days = np.floor(time_utc_s / DAY_S).astype("datetime64[D]")
    return np.asarray((days - days.astype("datetime64[Y]")).astype(np.int64) + 1, float)


def month_of_year(time_utc_s: FloatArray) -> FloatArray:
    """Return the month, 1 to 12, of UTC times."""
    months = np.floor(time_utc_s / DAY_S).astype("datetime64[D]").astype("datetime64[M]")
    return np.asarray(months.astype(np.int64) % 12 + 1, float)


def hour_of_day(time_utc_s: FloatArray) -> FloatArray:
    """Return the hour of the day, 0 to 24, of UTC times, to the minute."""
    return np.asarray(np.floor(time_utc_s % DAY_S / 60.0) / 60.0)


def year_start_s(year: int) -> float:
    """Return the UTC second a year starts at."""
    return float(np.datetime64(f"{year:04d}-01-01").astype("datetime64[s]").astype(np.int64))


def extra_radiation(time_utc_s: FloatArray) -> FloatArray:
    """Return the sun's normal light above the air [W/m²] (Spencer 1971)."""
    b = 2.0 * np.pi / 365.0 * (day_of_year(time_utc_s) - 1.0)
    ratio = 1.00011 + 0.034221 * np.cos(b) + 0.00128 * np.sin(b)
    return np.asarray(SOLAR_CONSTANT_W_M2 * (ratio + 0.000719 * np.cos(2 * b) + 7.7e-05 * np.sin(2 * b)))


def equation_of_time_min(day: float) -> float:
    """Return how far the sundial is ahead of the clock [min] (Spencer 1971)."""
    b = 2.0 * np.pi / 365.0 * (day - 1.0)
    turn = (
        0.0000075
        + 0.001868 * np.cos(b)
        - 0.032077 * np.sin(b)
        - 0.014615 * np.cos(2 * b)
        - 0.040849 * np.sin(2 * b)
    )
    return float(1440.0 / (2.0 * np.pi) * turn)


def clear_sky(
    elevation_deg: FloatArray, turbidity: float, altitude_m: float, time_utc_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return direct normal and diffuse horizontal light of a clear sky [W/m²], 0 with the sun down.

    References
    ----------
    .. [1] Ineichen and Perez (2002), Airmass independent Linke turbidity, Solar Energy 73.
    """
    up = elevation_deg > 0.0
    sine = np.where(up, np.sin(np.radians(elevation_deg)), 1.0)
    thick = np.where(up, relative_airmass(elevation_deg) * pressure_pa(altitude_m) / SEA_PRESSURE_PA, 1.0)
    extra = extra_radiation(time_utc_s)
    fh1, fh2 = np.exp(-altitude_m / 8000.0), np.exp(-altitude_m / 1250.0)
    cg1, cg2 = 5.09e-05 * altitude_m + 0.868, 3.92e-05 * altitude_m + 0.0387
    ghi = cg1 * extra * sine * np.exp(-cg2 * thick * (fh1 + fh2 * (turbidity - 1.0)))
    beam = extra * (0.664 + 0.163 / fh1) * np.exp(-0.09 * thick * (turbidity - 1.0))
    most = np.maximum((1.0 - (0.1 - 0.2 * np.exp(-turbidity)) / (0.1 + 0.882 / fh1)) / sine, 0.0)
    dni = np.minimum(beam, ghi * most)
    return np.where(up, dni, 0.0), np.where(up, ghi - dni * sine, 0.0)


def perez_shares(
    elevation_deg: FloatArray, dni_w_m2: FloatArray, dhi_w_m2: FloatArray, extra_w_m2: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the shares of diffuse light around the sun and, on a wall, in the band at the horizon.

    References
    ----------
    .. [1] Perez, Ineichen, Seals, Michalsky, Stewart (1990), Solar Energy 44, 271-289.
    """
    zenith = np.radians(90.0 - elevation_deg)
    diffuse = np.maximum(dhi_w_m2, 1e-9)
    bend = 1.041 * zenith**3
    clearness = ((diffuse + dni_w_m2) / diffuse + bend) / (1.0 + bend)
    row = BRIGHTENING[np.digitize(clearness, CLEARNESS)]
    brightness = dhi_w_m2 * relative_airmass(elevation_deg) / extra_w_m2
    around = np.maximum(row[:, 0] + row[:, 1] * brightness + row[:, 2] * zenith, 0.0)
    band = row[:, 3] + row[:, 4] * brightness + row[:, 5] * zenith
    low = np.maximum(np.cos(zenith), 0.0) / np.maximum(np.cos(zenith), np.cos(np.radians(85.0)))
    flat, wall = 1.0 - around + around * low, (1.0 - around) / 2.0 + band
    return np.where(flat > 0.0, around * low, 0.0), np.where(wall > 0.0, band, 0.0)


def reflection(cos_incidence: FloatArray) -> FloatArray:
    """Return the share of beam that enters plain glass, of what enters at right angles.

    References
    ----------
    .. [1] Duffie and Beckman, Solar engineering of thermal processes, section 5.1-5.3 (Fresnel, Bouguer).
    """
    outside = np.clip(cos_incidence, 0.0, 1.0)
    inside = np.sqrt(1.0 - (1.0 - outside**2) / GLASS_INDEX**2)
    across = ((outside - GLASS_INDEX * inside) / (outside + GLASS_INDEX * inside)) ** 2
    along = ((inside - GLASS_INDEX * outside) / (inside + GLASS_INDEX * outside)) ** 2
    straight = 1.0 - ((1.0 - GLASS_INDEX) / (1.0 + GLASS_INDEX)) ** 2
    glass = GLASS_EXTINCTION * GLASS_M
    share = (2.0 - across - along) / 2.0 * np.exp(-glass / inside) / (straight * np.exp(-glass))
    return np.asarray(share)


@lru_cache(maxsize=64)
def linke_turbidity(latitude_deg: float, longitude_deg: float) -> tuple[float, ...]:
    """Return a place's mean turbidity of the twelve months, from the table bundled with pvlib.

    References
    ----------
    .. [1] Remund and others (2003), Worldwide Linke turbidity information, ISES Solar World Congress.
    """
    h5py: Any = importlib.import_module("h5py")
    row = _cell(latitude_deg, 90.0, -90.0, 2160)
    column = _cell(longitude_deg, -180.0, 180.0, 4320)
    with h5py.File(_pvlib_folder() / "data" / "LinkeTurbidities.h5", "r") as table:
        return tuple(float(value) / 20.0 for value in table["LinkeTurbidity"][row, column])


def _cell(degrees: float, first: float, last: float, n: int) -> int:
    per_degree = n / (last - first)
    place = (degrees - (first + 0.5 / per_degree)) * per_degree
    return int(min(max(np.around(place), 0), n - 1))
