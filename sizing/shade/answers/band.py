"""How the year varies with the weather: the same roof under several years of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from sizing.shade.answers.year import shade_year
from sizing.shade.scene.scene import SceneError, SceneInput, Weather

LEAST_YEARS = 5  # fewer say nothing of the tenth and the ninetieth part; ours


@dataclass(frozen=True, slots=True)
class YearBand:
    """Yearly energy [kWh] passed in 90, 50 and 10 of 100 years, straight between the years given."""

    wiring: str
    n_years: int
    p90_kwh: float
    p50_kwh: float
    p10_kwh: float
    years_kwh: tuple[float, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the band as plain JSON values."""
        return asdict(self)


def year_band(
    scene: SceneInput,
    weathers: Sequence[Weather],
    *,
    wiring: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> YearBand:
    """Return the band of yearly energy over years of weather at one place.

    Parameters
    ----------
    scene : SceneInput
        The roof; its own weather is put aside.
    weathers : sequence of Weather
        At least five years. [-]
    wiring : str or None
        ``None`` takes the first.
    progress : callable or None
        Told the share done after each year; may raise to stop. [-]

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
    if len(weathers) < LEAST_YEARS:
        raise SceneError("years", f"must hold at least {LEAST_YEARS} years of weather, got {len(weathers)}")
    energies, name = [], ""
    for i, weather in enumerate(weathers):
        result = shade_year(replace(scene, weather=weather), main=wiring, detail=False)
        name = result.main_wiring
        energies.append(result.wiring(name).mean_kwh)
        if progress is not None:
            progress((i + 1) / len(weathers))
    low, middle, high = np.quantile(energies, (0.1, 0.5, 0.9))
    return YearBand(name, len(energies), float(low), float(middle), float(high), tuple(energies))
