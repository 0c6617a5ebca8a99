"""Covered share of every cell against exact polygon areas from shapely 2 (GEOS).

Shapely knows nothing of the engine's outlines: boxes and cylinders are the hull of their footprint and of
the footprint moved along the sun, domes the hull of many rings moved likewise, tilted panels are projected
point by point. The tolerance of 2 % of a cell is the engine's round outlines, which have 24 corners of the
circle's area.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from sizing.shade.engine.geometry import build_layout, empty_boxes, panel_frame
from sizing.shade.engine.light import sun_vectors
from sizing.shade.kernels.kernel_cover import cover_sun, cover_work
from sizing.shade.scene.footprint import footprint
from sizing.shade.scene.scene import Hinge, ObstructionKind
from tests.shade_scenes import SCENES, scene


def cover(layout, sun):
    share, touched = np.zeros((1, layout.n_cells)), np.zeros((1, layout.n_panels), np.bool_)
    wanted = np.ones(layout.n_panels, np.bool_)
    work = cover_work(layout.shades, layout.grids)
    boxes = empty_boxes(layout, 1)[0]
    cover_sun(layout.shades, layout.grids, sun, wanted, 0, share, touched, boxes, False, work)
    return share[0]


def shadow_on_flat(thing, z_m, sun):
    shift = np.array([-sun[0] / sun[2], -sun[1] / sun[2]])
    low, high = max(thing.z0_m - z_m, 0.0), thing.z0_m + thing.h_m - z_m
    if high <= 0:
        return shapely.Polygon()
    if thing.kind is not ObstructionKind.DOME:
        base = footprint(thing)
        return shapely.union(translate(base, *(shift * low)), translate(base, *(shift * high))).convex_hull
    rings = []
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    for rise in np.linspace(0, math.pi / 2, 200):
        r, z = thing.r_m * math.cos(rise), thing.z0_m + thing.h_m * math.sin(rise) - z_m
        if z >= 0:
            rings.append(
                np.column_stack([thing.cx_m + r * np.cos(angle), thing.cy_m + r * np.sin(angle)]) + shift * z
            )
    return shapely.MultiPoint(np.vstack(rings)).convex_hull


def cell_squares(layout, p):
    u0, v0 = layout.grids.corner[p]
    du, dv = layout.grids.pitch[p]
    nu, nv = layout.grids.cells[p]
    return [
        shapely.box(u0 + i * du, v0 + j * dv, u0 + (i + 1) * du, v0 + (j + 1) * dv)
        for j in range(nv)
        for i in range(nu)
    ]


@pytest.mark.parametrize("name", SCENES)
def test_covered_shares_are_the_areas_shapely_finds(name):
    roof = scene(name)
    layout = build_layout(roof)
    rng = np.random.default_rng(20)
    total_ours = total_true = 0.0
    for _ in range(12):
        elevation, azimuth = rng.uniform(4, 65), rng.uniform(0, 360)
        sun = sun_vectors(np.array([azimuth]), np.array([elevation]), np.eye(3))[0]
        ours = cover(layout, sun)
        shade = shapely.union_all([shadow_on_flat(o, 0.06, sun) for o in roof.obstructions])
        squares = [square for p in range(layout.n_panels) for square in cell_squares(layout, p)]
        true = np.array([square.intersection(shade).area / square.area for square in squares])
        assert np.abs(ours - true).max() < 0.02, (azimuth, elevation)
        total_ours, total_true = total_ours + ours.sum(), total_true + true.sum()
    assert total_ours == pytest.approx(total_true, rel=2e-3)


def test_tilted_panels_shade_one_another_as_shapely_projects_them():
    roof = scene("d1_small_van")
    panels = tuple(replace(panel, tilt_deg=35.0, hinge=Hinge.LEFT) for panel in roof.panels)
    roof = replace(roof, panels=panels, obstructions=())
    layout = build_layout(roof)
    frames = [panel_frame(panel, roof.panel_type(panel)) for panel in panels]
    sun = sun_vectors(np.array([-80.0]), np.array([14.0]), np.eye(3))[0]
    ours = cover(layout, sun)
    assert ours.max() > 0.5
    for p, frame in enumerate(frames):
        shade = shapely.union_all(
            [plate_on_plane(other, frame, sun) for q, other in enumerate(frames) if q != p]
        )
        true = [square.intersection(shade).area / square.area for square in cell_squares(layout, p)]
        assert ours[layout.grids.first[p] : layout.grids.first[p + 1]] == pytest.approx(true, abs=1e-6)


def plate_on_plane(plate, onto, sun):
    """Project the part of a plate in front of a plane along the sun: its dense outline, hulled."""
    edge = np.linspace(0, 1, 2001)
    walk = (
        [(t, 0) for t in edge]
        + [(1, t) for t in edge]
        + [(1 - t, 1) for t in edge]
        + [(0, 1 - t) for t in edge]
    )
    points = np.array(
        [
            plate.origin_m + a * plate.len_u_m * plate.axis_u + b * plate.len_v_m * plate.axis_v
            for a, b in walk
        ]
    )
    height = (points - onto.origin_m) @ onto.normal
    facing = sun @ onto.normal
    if facing <= 0 or not np.any(height >= 0):
        return shapely.Polygon()
    landed = points[height >= 0] - np.outer(height[height >= 0] / facing, sun) - onto.origin_m
    return shapely.MultiPoint(np.column_stack([landed @ onto.axis_u, landed @ onto.axis_v])).convex_hull
