"""The shade clock: a moment, a day, the hour in which shade takes most, all under a clear sky."""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from sizing.shade.answers.hourly import cell_sky, hourly_year
from sizing.shade.answers.moment import ABOVE, GRID_V, ShadeMoment, shade_moment
from sizing.shade.engine.geometry import Layout, build_layout
from sizing.shade.scene.chosen_wiring import own_wiring
from sizing.shade.scene.scene import (
    ClearSky,
    ClimateGrid,
    FloatArray,
    MonthlyClimate,
    SceneError,
    SceneInput,
    Wiring,
)
from sizing.shade.sky.sky_formulas import HOUR_S, linke_turbidity
from sizing.shade.sky.sun import Daylight, clear_moment
from sizing.sun.climate import climate_at

STEP_MIN: Final = 15
#: Air where the weather names no temperatures. [°C]
PLAIN_AIR_C: Final = 20.0
#: An hour that loses less is no worst hour. [Wh]
LEAST_LOSS_WH: Final = 0.5
KEPT_SKIES: Final = 4
FIRST_YEAR, LAST_YEAR = 1950, 2100

_skies: OrderedDict[tuple[Any, ...], FloatArray] = OrderedDict()
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class ShadeHour:
    """One clock hour, read at its middle: what comes out, what would on a bare roof. [Wh]"""

    start: str  # local standard time, YYYY-MM-DDTHH:00
    power_wh: float
    bare_power_wh: float

    @property
    def lost_wh(self) -> float:
        """Return what shade takes in the hour [Wh]."""
        return self.bare_power_wh - self.power_wh


@dataclass(frozen=True, slots=True)
class ShadeDay:
    """One day in steps: sun and power, 0 W with the sun down; ``worst`` is None where shade takes nothing."""

    minute: tuple[int, ...]  # of the day, local standard time
    solar_azimuth_deg: tuple[float, ...]
    solar_elevation_deg: tuple[float, ...]
    power_w: tuple[float, ...]
    bare_power_w: tuple[float, ...]
    worst: ShadeHour | None

    def to_json(self) -> dict[str, Any]:
        """Return the day as plain JSON values."""
        return asdict(self)


def clock_moment(
    scene: SceneInput, *, when: str, heading_deg: float, wiring: Wiring | None = None
) -> ShadeMoment:
    """Return shadows and powers of one moment under the clear sky and the usual air of its month.

    Parameters
    ----------
    scene : SceneInput
        The roof; a clear sky of its own is kept, other weather gives air temperatures, wind and heat only.
    when : str
        Local standard time, ``YYYY-MM-DDTHH:MM``.
    heading_deg : float
        Compass direction of the nose, 0 to 360. [°]
    wiring : Wiring or None
        ``None`` takes the scene's first, else each panel on a tracker of its own.

    Returns
    -------
    ShadeMoment
        Outlines [m], shares [-], powers [W].

    Raises
    ------
    SceneError
        If ``when`` is no such time or lies outside 1950 to 2100, or the heading outside 0 to 360°.

    References
    ----------
    .. [1] Reda and Andreas, NREL/TP-560-34302; Ineichen and Perez (2002).
    """
    month = _day(when[:10] if isinstance(when, str) else when, "when").month
    clear = replace(scene, weather=clear_month(scene, month))
    return shade_moment(
        clear, when=when, heading_deg=heading_deg, wiring=wiring, sky=_sky(clear, build_layout(clear))
    )


def shade_day(scene: SceneInput, *, date: str, heading_deg: float, wiring: Wiring | None = None) -> ShadeDay:
    """Return a day's power in steps of a quarter of an hour, and the hour in which shade takes most.

    Parameters
    ----------
    scene : SceneInput
        As for :func:`clock_moment`.
    date : str
        ``YYYY-MM-DD``, 1950 to 2100.
    heading_deg : float
        Compass direction of the nose, 0 to 360. [°]
    wiring : Wiring or None
        As for :func:`clock_moment`.

    Returns
    -------
    ShadeDay
        Sun [°] and power [W] at every step of the local standard day.

    Raises
    ------
    SceneError
        If the date or the heading cannot be.

    References
    ----------
    .. [1] The same kernels as :func:`shade_check`, under the sky of :func:`clock_moment`.
    """
    day = _day(date, "date")
    minute = np.arange(0, 24 * 60, STEP_MIN)
    times: FloatArray = np.asarray(_utc_s(scene, day) + 60.0 * minute, float)
    light = clear_moment(clear_month(scene, day.month), scene.site, times)
    power, bare = _powers(scene, light, heading_deg, wiring)
    hours = np.flatnonzero(minute % 60 == 30)
    return ShadeDay(
        minute=tuple(minute.tolist()),
        solar_azimuth_deg=tuple(light.azimuth_deg.tolist()),
        solar_elevation_deg=tuple(light.elevation_deg.tolist()),
        power_w=tuple(power.tolist()),
        bare_power_w=tuple(bare.tolist()),
        worst=_worst(scene, times[hours], power[hours], bare[hours]),
    )


def worst_hour(
    scene: SceneInput, *, year: int, heading_deg: float, wiring: Wiring | None = None
) -> ShadeHour | None:
    """Return the clock hour of a year of clear days in which shade takes most; None where it takes nothing.

    Parameters
    ----------
    scene : SceneInput
        As for :func:`clock_moment`.
    year : int
        1950 to 2100.
    heading_deg : float
        Compass direction of the nose, 0 to 360. [°]
    wiring : Wiring or None
        As for :func:`clock_moment`.

    Returns
    -------
    ShadeHour or None
        The hour, read at its middle. [Wh]

    Raises
    ------
    SceneError
        If the year or the heading cannot be.

    References
    ----------
    .. [1] As :func:`shade_day`.
    """
    starts = [_utc_s(scene, _day(f"{year:04d}-{month:02d}-01", "year")) for month in range(1, 13)]
    ends = [*starts[1:], starts[0] + (366 if _is_leap(year) else 365) * 24 * HOUR_S]
    months = []
    for month, (start, end) in enumerate(zip(starts, ends, strict=True), start=1):
        light = clear_moment(
            clear_month(scene, month), scene.site, np.arange(start + HOUR_S / 2, end, HOUR_S)
        )
        months.append(_only(light, light.elevation_deg > 0.0))
    light = _joined(months)
    power, bare = _powers(scene, light, heading_deg, wiring)
    return _worst(scene, light.time_utc_s, power, bare)


def clear_month(scene: SceneInput, month: int) -> ClearSky:
    """Return the clear sky of a month at a place, with the air of that month where the weather knows it.

    References
    ----------
    .. [1] Remund and others (2003), Worldwide Linke turbidity information.
    """
    weather, site = scene.weather, scene.site
    if isinstance(weather, ClearSky):
        return weather
    low, high = _air_c(scene, month)
    return ClearSky(
        linke_turbidity=linke_turbidity(site.latitude_deg, site.longitude_deg)[month - 1],
        t_mean_c=(low + high) / 2.0,
        t_daily_c=(high - low) / 2.0,
        wind_ms=getattr(weather, "wind_ms", 1.5)
        if isinstance(weather, ClimateGrid | MonthlyClimate)
        else 1.5,
        heat=weather.heat,
        sky_model=weather.sky_model,
    )


def _air_c(scene: SceneInput, month: int) -> tuple[float, float]:
    """Return the usual lowest and highest air temperature of a day of the month [°C]."""
    weather, site = scene.weather, scene.site
    if isinstance(weather, MonthlyClimate):
        return weather.t_min_c[month - 1], weather.t_max_c[month - 1]
    if isinstance(weather, ClimateGrid):
        point = climate_at(site.latitude_deg, site.longitude_deg, site.altitude_m)
        if point is not None:
            return point.temp_air_min_c[month - 1], point.temp_air_max_c[month - 1]
    return PLAIN_AIR_C, PLAIN_AIR_C


def _day(text: Any, name: str) -> dt.date:
    try:
        day = dt.date.fromisoformat(text)
    except (ValueError, TypeError) as trouble:
        raise SceneError(name, f"must be a day like 2025-06-21, got {text!r}") from trouble
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise SceneError(name, f"must lie in the years {FIRST_YEAR} to {LAST_YEAR}, got {text!r}")
    return day


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _utc_s(scene: SceneInput, day: dt.date) -> float:
    """Return the UTC second at which a local standard day begins."""
    midnight = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp()
    return midnight - scene.site.utc_offset_h * HOUR_S


def _powers(
    scene: SceneInput, light: Daylight, heading_deg: float, wiring: Wiring | None
) -> tuple[FloatArray, FloatArray]:
    """Return the power and the bare power of every sample [W]; nothing with the sun down."""
    if not 0.0 <= heading_deg <= 360.0:
        raise SceneError("heading_deg", f"must be 0 to 360 °, got {heading_deg}")
    layout = build_layout(scene)
    chosen = wiring or (scene.wirings[0] if scene.wirings else own_wiring(layout.panel_ids))
    one = replace(scene, headings_deg=(heading_deg,), wirings=(chosen,))
    power, bare = np.zeros(light.n), np.zeros(light.n)
    up = light.elevation_deg > 0.0
    if up.any():
        year = hourly_year(
            one, _only(light, up), above=ABOVE, grid_v=GRID_V, layout=layout, sky=_sky(scene, layout)
        )
        power[up], bare[up] = year.power_w[:, 0].sum(axis=1), year.unshaded_w[:, 0].sum(axis=1)
    return power, bare


def _worst(scene: SceneInput, times: FloatArray, power: FloatArray, bare: FloatArray) -> ShadeHour | None:
    """Return the worst of hours given at their middles."""
    if not len(times) or (bare - power).max() < LEAST_LOSS_WH:
        return None
    worst = int((bare - power).argmax())
    local = times[worst] - HOUR_S / 2 + scene.site.utc_offset_h * HOUR_S
    start = dt.datetime.fromtimestamp(float(local), dt.UTC).strftime("%Y-%m-%dT%H:%M")
    return ShadeHour(start, float(power[worst]), float(bare[worst]))


def _sky(scene: SceneInput, layout: Layout) -> FloatArray:
    """Return the sky seen by each cell, kept for the next step of the clock."""
    key = (
        scene.panels, scene.obstructions, tuple(scene.panel_types.items()), scene.pitch_deg, scene.roll_deg,
    )  # fmt: skip
    with _lock:
        if key in _skies:
            _skies.move_to_end(key)
            return _skies[key]
    made = cell_sky(scene, layout)
    with _lock:
        _skies[key] = made
        while len(_skies) > KEPT_SKIES:
            _skies.popitem(last=False)
    return made


def _only(light: Daylight, kept: npt.NDArray[np.bool_]) -> Daylight:
    """Return some samples of a daylight."""
    kept_parts: list[Any] = [part[kept] if np.ndim(part) else part for part in _parts(light)]
    return Daylight(*kept_parts)


def _joined(lights: list[Daylight]) -> Daylight:
    """Return daylights one after the other."""
    columns = zip(*map(_parts, lights), strict=True)
    joined: list[Any] = [np.concatenate(part) if np.ndim(part[0]) else part[0] for part in columns]
    return Daylight(*joined)


def _parts(light: Daylight) -> list[Any]:
    return [getattr(light, field.name) for field in fields(light)]
