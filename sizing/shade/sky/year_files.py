"""Which weather files of a folder stand for years at a place: reads their heads only."""

from __future__ import annotations

import csv
import gzip
import math
from pathlib import Path

from sizing.shade.scene.scene import SceneError, WeatherFile

EARTH_KM = 6371.0
HEAD_LINES = 2


def years_near(
    folder: str, latitude_deg: float, longitude_deg: float, *, within_km: float = 50.0
) -> tuple[WeatherFile, ...]:
    """Return the weather files of a folder whose place lies near, one a year of weather.

    Parameters
    ----------
    folder : str
        Files in EPW, TMY3 or PVGIS (csv) form, gzip allowed; others are left out.
    latitude_deg, longitude_deg : float
        The place, north and east positive. [°]
    within_km : float
        How far a file's place may lie. [km]

    Returns
    -------
    tuple of WeatherFile
        In the order of their names.

    Raises
    ------
    SceneError
        If the folder cannot be read.

    References
    ----------
    .. [1] Great-circle distance on a sphere of 6371 km; heads as in the EPW, TMY3 and PVGIS documents.
    """
    try:
        paths = sorted(path for path in Path(folder).iterdir() if path.is_file())
    except OSError as trouble:
        raise SceneError("years", f"folder cannot be read: {folder}") from trouble
    found = []
    for path in paths:
        known = file_place(path)
        if known is not None and _away_km(latitude_deg, longitude_deg, known[1], known[2]) <= within_km:
            found.append(WeatherFile(path=str(path), format=known[0]))
    return tuple(found)


def file_place(path: Path) -> tuple[str, float, float] | None:
    """Return format, latitude and longitude as a weather file's head gives them; None for another file."""
    lines = _head(path)
    try:
        if lines[0].startswith("LOCATION,"):
            parts = lines[0].split(",")
            return "epw", float(parts[6]), float(parts[7])
        if lines[0].lower().startswith("latitude"):
            return "pvgis_tmy", float(lines[0].split(":")[1]), float(lines[1].split(":")[1])
        parts = next(csv.reader([lines[0]]))
        return "tmy3", float(parts[4]), float(parts[5])
    except (IndexError, ValueError, StopIteration):
        return None


def _head(path: Path) -> list[str]:
    try:
        with path.open("rb") as stream:
            is_packed = stream.read(2) == b"\x1f\x8b"
            stream.seek(0)
            lines = gzip.GzipFile(fileobj=stream) if is_packed else stream
            return [lines.readline(4000).decode("latin-1") for _ in range(HEAD_LINES)]
    except (OSError, EOFError):
        return []


def _away_km(lat: float, lon: float, other_lat: float, other_lon: float) -> float:
    """Return the great-circle distance of two places."""
    a, b = math.radians(lat), math.radians(other_lat)
    half = (
        math.sin((b - a) / 2) ** 2
        + math.cos(a) * math.cos(b) * math.sin(math.radians(other_lon - lon) / 2) ** 2
    )
    return 2 * EARTH_KM * math.asin(min(1.0, math.sqrt(half)))
