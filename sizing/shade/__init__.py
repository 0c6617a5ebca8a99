"""The shade and string engine: the yearly truth of a roof. Nothing heavy is imported until it is used."""

from __future__ import annotations

import importlib
from typing import Any

FACE = {
    "SceneInput": "scene",
    "SceneError": "scene",
    "ShadeResult": "results",
    "scene_from_json": "read_scene",
    "scene_from_file": "read_scene",
    "shade_year": "year",
}


def __getattr__(name: str) -> Any:
    if name in FACE:
        return getattr(importlib.import_module(f"{__name__}.{FACE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
