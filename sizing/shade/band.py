"""Knows how the year varies with the weather: the same roof under several years of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sizing.shade.scene import SceneError, SceneInput, Weather
from sizing.shade.year import shade_year


@dataclass(frozen=True, slots=True)
class YearBand:
    """Yearly energy [kWh] passed in 90, 50 and 10 of 100 years, straight between the years given."""

    wiring: str
    n_years: int
    p90_kwh: float
    p50_kwh: float
    p10_kwh: float
    years_kwh: tuple[float, ...]


def year_band(scene: SceneInput, weathers: Sequence[Weather], *, wiring: str | None = None) -> YearBand:
    """Return the band of yearly energy over years of weather at one place.

    Parameters
    ----------
    scene : SceneInput
        The roof; its own weather is put aside.
    weathers : sequence of Weather
        At least five years. [-]
    wiring : str or None
        ``None`` takes the first.

    Returns
    -------
    YearBand
        Mean of headings. [kWh/year]

    Raises
    ------
    SceneError
        If fewer than five years are given: a band of fewer says nothing.

    References
    ----------
    .. [1] Hyndman and Fan (1996), Sample quantiles in statistical packages, definition 7.
    """
    if len(weathers) < 5:
        raise SceneError("weathers", f"must hold at least 5 years, got {len(weathers)}")
    energies, name = [], ""
    for weather in weathers:
        result = shade_year(replace(scene, weather=weather), main=wiring, detail=False)
        name = result.main_wiring
        energies.append(result.wiring(name).mean_kwh)
    low, middle, high = np.quantile(energies, (0.1, 0.5, 0.9))
    return YearBand(name, len(energies), float(low), float(middle), float(high), tuple(energies))
