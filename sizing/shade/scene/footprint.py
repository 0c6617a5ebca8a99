"""What panels and roof objects cover, seen from above [m]."""

from __future__ import annotations

import shapely
import shapely.affinity

from sizing.shade.scene.scene import Obstruction, ObstructionKind, PlacedPanel, SceneInput


def rectangle(scene: SceneInput, panel: PlacedPanel) -> shapely.Polygon:
    """Return what a flat panel covers, seen from above."""
    kind = scene.panel_type(panel)
    size = (kind.len_x_m, kind.len_y_m) if panel.rot_deg % 180 == 0 else (kind.len_y_m, kind.len_x_m)
    return shapely.box(panel.x_m, panel.y_m, panel.x_m + size[0], panel.y_m + size[1])


def footprint(thing: Obstruction) -> shapely.Polygon:
    """Return what a roof object covers, seen from above."""
    if thing.kind != ObstructionKind.BOX:
        return shapely.Point(thing.cx_m, thing.cy_m).buffer(thing.r_m, quad_segs=16)
    flat = shapely.box(-thing.lx_m / 2, -thing.ly_m / 2, thing.lx_m / 2, thing.ly_m / 2)
    turned = shapely.affinity.rotate(flat, thing.yaw_deg, origin=(0, 0))
    return shapely.affinity.translate(turned, thing.cx_m, thing.cy_m)
