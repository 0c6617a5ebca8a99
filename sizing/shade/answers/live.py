"""The year while one panel is dragged: only what moved is worked out again."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

from sizing.shade.engine.fast import Shadows, WiringYear, cast_shadows, wiring_year
from sizing.shade.engine.geometry import Layout, build_layout
from sizing.shade.engine.known_place import place_for, place_key
from sizing.shade.engine.place import Place
from sizing.shade.scene.chosen_wiring import with_wiring
from sizing.shade.scene.scene import SceneInput, Wiring

KEPT_ROOFS = 4


@dataclass(slots=True)
class _Roof:
    """A roof under the hand: its last scene and its shadows, changed in place under the lock."""

    scene: SceneInput
    place: Place
    shadows: Shadows
    lock: threading.Lock


_roofs: OrderedDict[tuple[Any, ...], _Roof] = OrderedDict()
_lock = threading.Lock()


@dataclass(frozen=True, slots=True)
class LiveYear:
    """The main numbers of one wiring, fast enough to follow a hand."""

    wiring: str
    mean_kwh: float
    unshaded_kwh: float
    loss_fraction: float
    kwh_by_heading: tuple[float, ...]
    monthly_kwh: tuple[float, ...]
    panels_recomputed: int


def live_year(scene: SceneInput, *, wiring: str | None = None) -> LiveYear:
    """Return one wiring's year; a scene that differs from the last by moved panels costs only those.

    Parameters
    ----------
    scene : SceneInput
        The roof as it stands now.
    wiring : str or None
        Name of the wiring to work out; ``None`` takes the first.

    Returns
    -------
    LiveYear
        Energies [kWh/year], loss as a fraction [-].

    Raises
    ------
    SceneError
        If the weather cannot be read.

    References
    ----------
    .. [1] The same method as :func:`shade_year`.
    """
    scene = with_wiring(scene)
    chosen = next((w for w in scene.wirings if w.name == wiring), scene.wirings[0])
    layout = build_layout(scene)
    roof = _roof_for(scene, layout)
    with roof.lock:
        moved = _follow(roof, scene, layout)
        year = wiring_year(roof.place, roof.shadows, chosen)
    return _live(chosen, year, moved)


def _live(wiring: Wiring, year: WiringYear, moved: int) -> LiveYear:
    unshaded = year.mean_unshaded_kwh
    return LiveYear(
        wiring=wiring.name,
        mean_kwh=year.mean_kwh,
        unshaded_kwh=unshaded,
        loss_fraction=1.0 - year.mean_kwh / unshaded if unshaded > 0 else 0.0,
        kwh_by_heading=tuple(year.by_heading_kwh.tolist()),
        monthly_kwh=tuple(year.energy_kwh.mean(axis=1).tolist()),
        panels_recomputed=moved,
    )


def _roof_for(scene: SceneInput, layout: Layout) -> _Roof:
    """Return the kept roof with the same objects and panels, wherever they lie, or a new one."""
    names = tuple((panel.id, panel.type_name, panel.tilt_deg, panel.hinge) for panel in scene.panels)
    key = (place_key(scene, layout), scene.obstructions, names)
    with _lock:
        found = _roofs.get(key)
        if found is not None:
            _roofs.move_to_end(key)
            return found
    place = place_for(scene, layout)
    made = _Roof(scene, place, cast_shadows(place, layout), threading.Lock())
    with _lock:
        _roofs[key] = made
        while len(_roofs) > KEPT_ROOFS:
            _roofs.popitem(last=False)
    return made


def _follow(roof: _Roof, scene: SceneInput, layout: Layout) -> int:
    """Bring a roof's shadows up to a scene; return how many panels were worked out again."""
    moved = tuple(
        i for i, (old, new) in enumerate(zip(roof.scene.panels, scene.panels, strict=True)) if old != new
    )
    if not moved:
        return 0
    if layout.is_all_flat:
        roof.shadows = cast_shadows(roof.place, layout, before=roof.shadows, moved=moved)
    else:
        moved = tuple(range(layout.n_panels))
        roof.shadows = cast_shadows(roof.place, layout)
    roof.scene = scene
    return len(moved)
