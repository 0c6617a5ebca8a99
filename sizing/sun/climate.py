"""The climate of a place: monthly sun and temperatures from the bundled half-degree grid."""

from __future__ import annotations

import importlib.resources
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from sizing.core.inputs import InputOutOfRange

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Grid = dict[str, npt.NDArray[np.int16 | np.int32]]

CELL_DEG: Final = 0.5
LAPSE_C_PER_M: Final = -6.5e-3  # standard atmosphere [°C/m]
QUALITY_WORDS: Final = {1: "adjusted to stations nearby", 2: "world model", 3: "weak: no climate point near"}
GRID_SOURCE: Final = (
    "Half-degree climate grid after CRU CL 2.0 (New et al. 2002), NASA GLDAS 2.1, NREL TMY2/TMY3; "
    "a month about ±10%, 1 in 20 worse"
)


@dataclass(frozen=True, slots=True)
class ClimatePoint:
    """The climate of one place; monthly values January to December.

    ``ghi_kwh_m2_day`` is the mean daily light on the flat, which is also the peak sun hours. The lowest
    temperatures are estimates: 95 % of US stations are no more than 4 to 5 °C colder.
    """

    ghi_kwh_m2_day: tuple[float, ...]
    temp_air_min_c: tuple[float, ...]
    temp_air_max_c: tuple[float, ...]
    elevation_m: float
    mean_yearly_lowest_c: float
    lowest_20_years_c: float
    highest_c: float
    quality: str
    source: str = GRID_SOURCE


@lru_cache(maxsize=512)
def climate_at(
    latitude_deg: float, longitude_deg: float, altitude_m: float | None = None
) -> ClimatePoint | None:
    """Return the climate of a place from the bundled grid.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        North and east positive; -90 to 90 and -180 to 180. [°]
    altitude_m : float or None
        Height of the camp; temperatures are moved to it by -6.5 °C per km. ``None`` keeps the grid's. [m]

    Returns
    -------
    ClimatePoint or None
        ``None`` over open sea or beyond the grid (56° S to 75° N). [kWh/m²·day], [°C]

    Raises
    ------
    InputOutOfRange
        If a coordinate lies outside its range.

    Notes
    -----
    Bilinear over the valid cells around. ``mean yearly lowest = -7.49 + 1.074·c + 0.116·t_low`` and
    ``20-year lowest = -11.54 + 1.034·c + 0.232·t_low``, with ``c`` the coldest month's mean minimum at the
    camp's height and ``t_low`` of the nearest cell (fitted on 941 US stations, errors 2.3 and 3.4 °C).

    References
    ----------
    .. [1] New, Lister, Hulme and Makin (2002), Climate Research 21, 1-25 (CRU CL 2.0).
    .. [2] NASA GLDAS 2.1; NREL TMY2 and TMY3.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise InputOutOfRange("latitude_deg", f"must be -90 to 90 °, got {latitude_deg}")
    if not -180.0 <= longitude_deg <= 180.0:
        raise InputOutOfRange("longitude_deg", f"must be -180 to 180 °, got {longitude_deg}")
    cells = _cells(latitude_deg, longitude_deg)
    if not cells:
        return None
    return _point(cells, altitude_m)


def _point(cells: tuple[tuple[int, float], ...], altitude_m: float | None) -> ClimatePoint:
    elevation_m = _blend("elev", cells, 1.0)[0]
    shift_c = 0.0 if altitude_m is None else LAPSE_C_PER_M * (altitude_m - elevation_m)
    coldest = tuple(value + shift_c for value in _blend("tmin", cells, 10.0))
    hottest = tuple(value + shift_c for value in _blend("tmax", cells, 10.0))
    nearest = max(cells, key=lambda cell: cell[1])[0]
    low_c = float(_grid()["t_low"][nearest]) / 10.0
    return ClimatePoint(
        ghi_kwh_m2_day=_blend("ghi", cells, 100.0),
        temp_air_min_c=coldest,
        temp_air_max_c=hottest,
        elevation_m=elevation_m,
        mean_yearly_lowest_c=-7.49 + 1.074 * min(coldest) + 0.116 * low_c,
        lowest_20_years_c=-11.54 + 1.034 * min(coldest) + 0.232 * low_c,
        highest_c=float(_grid()["t_high"][nearest]) / 10.0,
        quality=QUALITY_WORDS[int(_grid()["quality"][nearest])],
    )


def _cells(latitude_deg: float, longitude_deg: float) -> tuple[tuple[int, float], ...]:
    """Return number and weight of the up to four cells with data around a point."""
    row_at, column_at = (latitude_deg + 89.75) / CELL_DEG, (longitude_deg + 179.75) / CELL_DEG
    row_0, column_0 = math.floor(row_at), math.floor(column_at)
    found = []
    for down in (0, 1):
        for right in (0, 1):
            row, column = min(max(row_0 + down, 0), 359), (column_0 + right) % 720
            weight = abs(1 - down - (row_at - row_0)) * abs(1 - right - (column_at - column_0))
            number = int(_grid()["number"][row, column])
            if weight > 0 and number >= 0:
                found.append((number, weight))
    total = sum(weight for _, weight in found)
    return tuple((number, weight / total) for number, weight in found)


def _blend(name: str, cells: tuple[tuple[int, float], ...], scale: float) -> tuple[float, ...]:
    """Return the weighted mean of one array over cells, a value per month where it has months."""
    values = _grid()[name]
    mean = sum(values[..., number] * weight for number, weight in cells)
    return tuple(float(value) / scale for value in (mean if values.ndim == 2 else (mean,)))  # type: ignore[union-attr]  # sum() of arrays


@lru_cache(maxsize=1)
def _grid() -> Grid:
    """Return the arrays over land only, and the number of each cell in them: a quarter of the memory."""
    import numpy as np  # half the import time of the face

    with (
        importlib.resources.files("sizing").joinpath("tables/climate_grid_0p5deg.npz").open("rb") as stream,
        np.load(stream) as arrays,
    ):
        land = arrays["ghi"][0] >= 0
        number = np.where(land, np.cumsum(land).reshape(land.shape) - 1, -1)
        kept = (name for name in arrays.files if name not in ("lat", "lon"))
        return {"number": number.astype(np.int32), **{name: arrays[name][..., land] for name in kept}}
