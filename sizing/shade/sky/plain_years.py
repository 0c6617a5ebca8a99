"""Typical-year files of the plain form, read with numpy alone.

pvlib and pandas take 100 MB and a second to load. A file that is not as its format's document says in every
row is left to pvlib's readers; where both read a file, a test holds them to the same values.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from sizing.shade.scene.scene import FloatArray
from sizing.shade.sky.sky_formulas import DAY_S, HOUR_S, year_start_s

FILE_YEAR = 2019  # every typical year is laid on this one
EPW_HEAD = 8  # lines before the first hour
LENGTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
FIRST_DAY = tuple(sum(LENGTHS[:month]) for month in range(12))
NAMES = ("ghi", "dni", "dhi", "temp_air", "wind_speed")
EPW_PLACES = (13, 14, 15, 6, 21)
TMY3_NAMES = ("GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "Dry-bulb (C)", "Wspd (m/s)")
PVGIS_NAMES = ("G(h)", "Gb(n)", "Gd(h)", "T2m", "WS10m")

Rows = Iterator[list[str]]


@dataclass(frozen=True, slots=True, eq=False)
class FileYear:
    """Stamps of the rows [s, UTC, on FILE_YEAR] and the columns of NAMES [W/m², °C, m/s]."""

    stamps_utc_s: FloatArray
    columns: dict[str, FloatArray]


def plain_year(form: str, raw: bytes) -> FileYear | None:
    """Return what a file of a format holds; None where any row is not of its plain form.

    References
    ----------
    .. [1] EnergyPlus auxiliary programs (EPW); NREL/TP-581-43156 (TMY3); PVGIS user manual (csv).
    """
    readers: dict[str, Callable[[Rows], FileYear]] = {"epw": _epw, "tmy3": _tmy3, "pvgis_tmy": _pvgis}
    try:
        year = readers[form](csv.reader(raw.decode().splitlines()))
    except (ValueError, IndexError, StopIteration):
        return None
    known = all(np.isfinite(values).all() for values in year.columns.values())
    return year if known and len(year.stamps_utc_s) else None


def _epw(rows: Rows) -> FileYear:
    head = next(rows)
    if head[0] != "LOCATION":
        raise ValueError("no head")
    for _ in range(EPW_HEAD - 1):
        next(rows)
    return _year(
        ((_second(row[1], row[2], int(row[3]) - 1), row) for row in rows), EPW_PLACES, float(head[8])
    )


def _tmy3(rows: Rows) -> FileYear:
    zone_h, names = float(next(rows)[3]), next(rows)
    day_at, hour_at = names.index("Date (MM/DD/YYYY)"), names.index("Time (HH:MM)")

    def stamped() -> Iterator[tuple[float, list[str]]]:
        for row in rows:
            month, day, _ = row[day_at].split("/")
            hour, minute = row[hour_at].split(":")
            if int(minute):
                raise ValueError("not on the hour")
            yield _second(month, day, int(hour)), row

    year = _year(stamped(), tuple(names.index(name) for name in TMY3_NAMES), zone_h)
    if np.any(np.diff(year.stamps_utc_s) != HOUR_S):
        raise ValueError("hours out of order")
    return year


def _pvgis(rows: Rows) -> FileYear:
    names = next(row for row in rows if row and row[0] == "time(UTC)")

    def stamped() -> Iterator[tuple[float, list[str]]]:
        for row in rows:
            if not row:  # what follows explains the columns
                return
            date, clock = row[0].split(":")
            if date[4:] == "0229":
                continue
            yield _second(date[4:6], date[6:], int(clock[:2])) + 60.0 * int(clock[2:]), row

    return _year(stamped(), tuple(names.index(name) for name in PVGIS_NAMES), 0.0)


def _second(month: str, day: str, hour: int) -> float:
    """Return the second of FILE_YEAR an hour of a day begins at."""
    if not 1 <= int(day) <= LENGTHS[int(month) - 1] or int(month) < 1 or not 0 <= hour <= 24:
        raise ValueError("no such hour")
    return DAY_S * (FIRST_DAY[int(month) - 1] + int(day) - 1) + HOUR_S * hour


def _year(stamped: Iterator[tuple[float, list[str]]], places: tuple[int, ...], zone_h: float) -> FileYear:
    kept = np.array([(second, *(float(row[place]) for place in places)) for second, row in stamped])
    columns = kept.reshape(-1, 1 + len(places)).T
    stamps = year_start_s(FILE_YEAR) - zone_h * HOUR_S + columns[0]
    return FileYear(stamps, dict(zip(NAMES, columns[1:], strict=True)))
