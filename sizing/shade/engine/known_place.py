"""Keeps the last few places worked out, so that the next question about one starts from it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Any

from sizing.shade.engine.geometry import Layout
from sizing.shade.engine.place import Place, build_place
from sizing.shade.scene.scene import SceneInput
from sizing.shade.sky.weather import daylight_for

KEPT_PLACES = 8
_places: OrderedDict[tuple[Any, ...], Place] = OrderedDict()
_lock = threading.Lock()


def place_key(scene: SceneInput, layout: Layout) -> tuple[Any, ...]:
    """Return what a place depends on; equal keys share one place."""
    kinds = tuple(
        (kind, tuple(normal.round(9).tolist()))
        for kind, normal in zip(layout.kind_types, layout.kind_normal, strict=True)
    )
    return (
        scene.site, scene.weather, scene.headings_deg, scene.pitch_deg, scene.roll_deg,
        scene.soiling_fraction, scene.albedo_fraction, kinds,
    )  # fmt: skip


def place_for(scene: SceneInput, layout: Layout) -> Place:
    """Return the place of a scene, kept for the next question about it."""
    key = place_key(scene, layout)
    with _lock:
        found = _places.get(key)
        if found is not None:
            _places.move_to_end(key)
            return found
    made = build_place(scene, layout, daylight_for(scene))
    with _lock:
        _places[key] = made
        while len(_places) > KEPT_PLACES:
            _places.popitem(last=False)
    return made
