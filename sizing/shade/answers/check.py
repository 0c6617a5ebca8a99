"""The user's check: the same year hour by hour, beside the gridded one."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sizing.shade.answers.hourly import energy_kwh, hourly_year
from sizing.shade.answers.year import shade_year
from sizing.shade.scene.chosen_wiring import with_wiring
from sizing.shade.scene.scene import SceneInput
from sizing.shade.sky.weather import daylight_for


@dataclass(frozen=True, slots=True)
class CheckedWiring:
    """One wiring every hour, and how far the gridded answer lies from it."""

    name: str
    unshaded_kwh: float
    kwh_by_heading: tuple[float, ...]
    mean_kwh: float
    mean_off_fraction: float
    worst_heading_off_fraction: float


@dataclass(frozen=True, slots=True)
class ShadeCheck:
    """Every wiring of a scene, every hour; ``same_order`` says whether the ranking stands."""

    wirings: tuple[CheckedWiring, ...]
    ranking: tuple[str, ...]
    same_order: bool

    def to_json(self) -> dict[str, Any]:
        """Return the check as plain JSON values."""
        return asdict(self)


def shade_check(scene: SceneInput, *, wiring: str | None = None) -> ShadeCheck:
    """Return the year worked out hour by hour for every heading, and the gridded answer's distance from it.

    Parameters
    ----------
    scene : SceneInput
        The roof.
    wiring : str or None
        Check one wiring only; ``None`` checks all.

    Returns
    -------
    ShadeCheck
        Energies [kWh/year], distances as fractions [-].

    Raises
    ------
    SceneError
        If the weather cannot be read.

    References
    ----------
    .. [1] Bishop (1988), Solar Cells 25; the same kernels as :func:`shade_year`, nothing gridded.
    """
    from dataclasses import replace

    scene = with_wiring(scene)
    if wiring is not None:
        scene = replace(scene, wirings=tuple(w for w in scene.wirings if w.name == wiring) or scene.wirings)
    with ThreadPoolExecutor(1) as pool:
        quick = pool.submit(shade_year, scene, detail=False)
        day = daylight_for(scene)
        exact = hourly_year(scene, day)
        fast = quick.result()
    made = []
    for chosen, span in zip(scene.wirings, exact.spans, strict=True):
        by_heading = energy_kwh(exact.power_w, day, span)
        gridded = np.array(fast.wiring(chosen.name).kwh_by_heading)
        off = gridded / np.maximum(by_heading, 1e-12) - 1.0
        made.append(
            CheckedWiring(
                name=chosen.name,
                unshaded_kwh=float(energy_kwh(exact.unshaded_w, day, span).mean()),
                kwh_by_heading=tuple(by_heading.tolist()),
                mean_kwh=float(by_heading.mean()),
                mean_off_fraction=float(gridded.mean() / max(by_heading.mean(), 1e-12) - 1.0),
                worst_heading_off_fraction=float(off[np.abs(off).argmax()]),
            )
        )
    ranking = tuple(w.name for w in sorted(made, key=lambda w: -w.mean_kwh))
    return ShadeCheck(tuple(made), ranking, ranking == fast.ranking)
