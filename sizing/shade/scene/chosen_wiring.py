"""Says which wiring a question is about: the one named, the first, or each panel on a tracker of its own."""

from __future__ import annotations

from dataclasses import replace

from sizing.shade.scene.scene import Controller, SceneError, SceneInput, Wiring


def own_wiring(panel_ids: tuple[str, ...]) -> Wiring:
    """Return each panel on a tracker of its own, which no wiring can beat."""
    return Wiring("own trackers", tuple(Controller(strings=((panel_id,),)) for panel_id in panel_ids))


def with_wiring(scene: SceneInput) -> SceneInput:
    """Return the scene with at least one wiring."""
    if scene.wirings:
        return scene
    return replace(scene, wirings=(own_wiring(tuple(panel.id for panel in scene.panels)),))


def main_wiring(scene: SceneInput, main: str | None) -> Wiring:
    """Return the wiring of a name, or the first; raise SceneError where none has it."""
    if main is None:
        return scene.wirings[0]
    for wiring in scene.wirings:
        if wiring.name == main:
            return wiring
    raise SceneError("wirings", f"has none named {main!r}")
