"""How a scene becomes the arrays the kernels work on: planes, cell grids, solids, branches, wiring."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.kernel_cover import DOME, PLATE, PRISM, Grids, Shades
from sizing.shade.kernels.kernel_curve import N_BACK, Kinds, Wires
from sizing.shade.kernels.kernel_string import BEST_PEAK, FIXED_V, HIGH_PEAK, Plan
from sizing.shade.scene.scene import (
    FloatArray,
    Hinge,
    Obstruction,
    ObstructionKind,
    PanelType,
    PlacedPanel,
    SceneInput,
    TrackerKind,
    Wiring,
)

IntArray = npt.NDArray[np.int64]
ROUND_POINTS = 24  # corners of a round outline
THIN_POINTS = 12  # of a mast
THIN_M = 0.05
DOME_RINGS = 5
TRACKERS = {TrackerKind.MPPT: BEST_PEAK, TrackerKind.MPPT_HIGH_V: HIGH_PEAK, TrackerKind.PWM: FIXED_V}


@dataclass(frozen=True, slots=True)
class PanelFrame:
    """Where a panel lies: origin, axes, normal, and its outer size along the axes."""

    origin_m: FloatArray
    axis_u: FloatArray
    axis_v: FloatArray
    normal: FloatArray
    len_u_m: float
    len_v_m: float
    is_flat: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """A scene's panels and objects as kernel arrays. A kind is a type in one orientation."""

    panel_ids: tuple[str, ...]
    grids: Grids
    shades: Shades
    kinds: Kinds
    wires: Wires
    kind_types: tuple[PanelType, ...]
    kind_normal: FloatArray
    is_all_flat: bool

    @property
    def n_panels(self) -> int:
        """Panels of the scene."""
        return len(self.panel_ids)

    @property
    def n_cells(self) -> int:
        """Cells of the scene."""
        return int(self.grids.first[-1])

    def index(self, panel_id: str) -> int:
        """Return the place of a panel."""
        return self.panel_ids.index(panel_id)


def panel_frame(panel: PlacedPanel, kind: PanelType) -> PanelFrame:
    """Return where a panel lies on the vehicle."""
    size = (kind.len_x_m, kind.len_y_m) if panel.rot_deg == 0 else (kind.len_y_m, kind.len_x_m)
    lean = math.radians(panel.tilt_deg)
    cos, sin = math.cos(lean), math.sin(lean)
    origin = np.array([panel.x_m, panel.y_m, panel.z_m])
    axis_u, axis_v = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    if panel.tilt_deg == 0.0:
        return PanelFrame(origin, axis_u, axis_v, np.array([0.0, 0.0, 1.0]), *size, True)
    if panel.hinge == Hinge.REAR:
        axis_u = np.array([cos, 0.0, sin])
    elif panel.hinge == Hinge.FRONT:
        axis_u = np.array([cos, 0.0, -sin])
        origin = origin + np.array([size[0] * (1.0 - cos), 0.0, size[0] * sin])
    elif panel.hinge == Hinge.RIGHT:
        axis_v = np.array([0.0, cos, sin])
    else:
        axis_v = np.array([0.0, cos, -sin])
        origin = origin + np.array([0.0, size[1] * (1.0 - cos), size[1] * sin])
    return PanelFrame(origin, axis_u, axis_v, np.cross(axis_u, axis_v), *size, False)


def branch_of_cells(kind: PanelType, rot_deg: int) -> IntArray:
    """Return group * halves + half of every cell in placed order: row by row along v, along u within a row.

    Turned a quarter turn counter-clockwise, native cell (i, j) stands at place (ny - 1 - j, i).
    """
    j, i = np.mgrid[0 : kind.ny, 0 : kind.nx]
    group = j * kind.n_groups // kind.ny
    half = (i >= kind.nx // 2).astype(np.int64) if kind.halves == 2 else np.zeros_like(i)
    native = group * kind.halves + half
    placed = native if rot_deg == 0 else native[::-1, :].T
    return np.ascontiguousarray(placed).astype(np.int64).ravel()


def build_layout(scene: SceneInput) -> Layout:
    """Return the kernel arrays of a scene."""
    types = [scene.panel_type(panel) for panel in scene.panels]
    frames = [panel_frame(panel, kind) for panel, kind in zip(scene.panels, types, strict=True)]
    kind_of, kind_types, normals = _kinds_of(types, frames)
    counts = np.array(
        [(t.nx, t.ny) if p.rot_deg == 0 else (t.ny, t.nx) for p, t in zip(scene.panels, types, strict=True)]
    )
    first = np.concatenate([[0], np.cumsum(counts.prod(axis=1))]).astype(np.int64)
    branches = [branch_of_cells(t, p.rot_deg) for p, t in zip(scene.panels, types, strict=True)]
    return Layout(
        panel_ids=tuple(panel.id for panel in scene.panels),
        grids=_grids(types, frames, counts, first),
        shades=_shades(scene.obstructions, frames),
        kinds=kinds_arrays(kind_types),
        wires=Wires(kind_of, first, np.concatenate(branches)),
        kind_types=tuple(kind_types),
        kind_normal=normals,
        is_all_flat=all(frame.is_flat for frame in frames),
    )


def _kinds_of(
    types: list[PanelType], frames: list[PanelFrame]
) -> tuple[IntArray, list[PanelType], FloatArray]:
    seen: dict[tuple[str, tuple[float, ...]], int] = {}
    kind_of, kind_types, normals = [], [], []
    for kind, frame in zip(types, frames, strict=True):
        key = (kind.name, tuple(np.round(frame.normal, 9)))
        if key not in seen:
            seen[key] = len(seen)
            kind_types.append(kind)
            normals.append(frame.normal)
        kind_of.append(seen[key])
    return np.array(kind_of, np.int64), kind_types, np.array(normals)


def _grids(
    types: list[PanelType], frames: list[PanelFrame], counts: npt.NDArray[Any], first: IntArray
) -> Grids:
    planes: dict[tuple[float, ...], int] = {}
    plane_of, plane_frames, flats, corners, pitches = [], [], [], [], []
    for kind, frame, count in zip(types, frames, counts, strict=True):
        key = (0.0, frame.origin_m[2]) if frame.is_flat else (1.0, float(len(planes)))
        if key not in planes:
            planes[key] = len(planes)
            origin = np.array([0.0, 0.0, frame.origin_m[2]]) if frame.is_flat else frame.origin_m
            plane_frames.append(np.stack([origin, frame.axis_u, frame.axis_v, frame.normal]))
            flats.append(frame.is_flat)
        plane_of.append(planes[key])
        inner = (frame.len_u_m - 2 * kind.margin_m, frame.len_v_m - 2 * kind.margin_m)
        pitches.append((inner[0] / count[0], inner[1] / count[1]))
        start = frame.origin_m[:2] if frame.is_flat else np.zeros(2)
        corners.append(start + kind.margin_m)
    return Grids(
        frame=np.array(plane_frames),
        is_flat=np.array(flats),
        plane=np.array(plane_of, np.int64),
        corner=np.array(corners, float),
        pitch=np.array(pitches, float),
        cells=counts.astype(np.int64),
        first=first,
    )


def kinds_arrays(kind_types: list[PanelType]) -> Kinds:
    """Return the electrical facts of panel kinds as arrays."""
    cells = np.array(
        [
            (
                t.cell.light_current_a,
                t.cell.saturation_current_a,
                t.cell.ideality,
                t.cell.series_ohm,
                t.cell.shunt_ohm,
                t.cell.alpha_a_per_k,
                t.cell.breakdown_factor,
                t.cell.breakdown_v,
                t.cell.breakdown_exp,
            )
            for t in kind_types
        ]
    )
    back = [_reverse_branch(t) for t in kind_types]
    return Kinds(
        cell=cells,
        make=np.array([(t.n_groups, t.halves, t.n_bypass > 0) for t in kind_types], np.int64),
        cells=np.array([t.nx * t.ny for t in kind_types], np.int64),
        back_v=np.array([v for v, _ in back]),
        back_x=np.array([x for _, x in back]),
    )


def _reverse_branch(kind: PanelType) -> tuple[FloatArray, FloatArray]:
    """Return diode voltage and light minus string current of a reversed cell, from 0 toward breakdown.

    Even steps of voltage first, then steps that shrink with the distance to breakdown.
    """
    cell = kind.cell
    half = N_BACK // 2
    near = np.linspace(0.0, 0.75, half, endpoint=False)
    far = 1.0 - np.geomspace(0.25, 1e-4, N_BACK - half)
    share = np.concatenate([near, far])
    volts = share * cell.breakdown_v
    boost = 1.0 + cell.breakdown_factor * (1.0 - share) ** (-cell.breakdown_exp)
    return volts, volts / cell.shunt_ohm * boost


def _shades(obstructions: tuple[Obstruction, ...], frames: list[PanelFrame]) -> Shades:
    solids = [_solid(o) for o in obstructions]
    solids += [_plate(frame, p) for p, frame in enumerate(frames) if not frame.is_flat]
    n = len(solids)
    n_base = max([len(s.base) for s in solids], default=1)
    n_points = max([len(s.points) for s in solids], default=1)
    n_edges = max([len(s.edges) for s in solids], default=1)
    made = Shades(
        kind=np.zeros(n, np.int64),
        owner=np.full(n, -1, np.int64),
        size=np.zeros((n, 6)),
        base=np.zeros((n, max(1, n_base), 2)),
        n_base=np.zeros(n, np.int64),
        points=np.zeros((n, n_points, 3)),
        n_points=np.zeros(n, np.int64),
        edges=np.zeros((n, n_edges, 2), np.int64),
        n_edges=np.zeros(n, np.int64),
    )
    for k, solid in enumerate(solids):
        made.kind[k], made.owner[k] = solid.kind, solid.owner
        made.size[k] = solid.size
        made.base[k, : len(solid.base)] = solid.base
        made.n_base[k] = len(solid.base) if solid.kind == PRISM else _round_points(solid.size[2])
        made.points[k, : len(solid.points)] = solid.points
        made.n_points[k] = len(solid.points)
        made.edges[k, : len(solid.edges)] = solid.edges
        made.n_edges[k] = len(solid.edges)
    return made


@dataclass(frozen=True, slots=True)
class _Solid:
    kind: int
    owner: int
    size: tuple[float, ...]
    base: FloatArray
    points: FloatArray
    edges: IntArray


def _round_points(r_m: float) -> int:
    return THIN_POINTS if r_m < THIN_M else ROUND_POINTS


def _circle(cx: float, cy: float, r_m: float, n: int) -> FloatArray:
    """Return a polygon of the circle's area."""
    angle = 2.0 * np.pi * np.arange(n) / n
    swollen = r_m * math.sqrt((2.0 * math.pi / n) / math.sin(2.0 * math.pi / n))
    return np.column_stack([cx + swollen * np.cos(angle), cy + swollen * np.sin(angle)])


def _solid(thing: Obstruction) -> _Solid:
    size = (thing.cx_m, thing.cy_m, thing.r_m, thing.h_m, thing.z0_m, thing.z0_m + thing.h_m)
    if thing.kind == ObstructionKind.DOME:
        points, edges = _dome_mesh(thing)
        return _Solid(DOME, -1, size, np.zeros((0, 2)), points, edges)
    if thing.kind == ObstructionKind.BOX:
        turn = math.radians(thing.yaw_deg)
        along = np.array([math.cos(turn), math.sin(turn)]) * thing.lx_m / 2
        across = np.array([-math.sin(turn), math.cos(turn)]) * thing.ly_m / 2
        centre = np.array([thing.cx_m, thing.cy_m])
        base = np.array(
            [
                centre - along - across,
                centre + along - across,
                centre + along + across,
                centre - along + across,
            ]
        )
    else:
        base = _circle(thing.cx_m, thing.cy_m, thing.r_m, _round_points(thing.r_m))
    points, edges = _prism_mesh(base, size[4], size[5])
    return _Solid(PRISM, -1, size, base, points, edges)


def _prism_mesh(base: FloatArray, low_m: float, high_m: float) -> tuple[FloatArray, IntArray]:
    n = len(base)
    points = np.vstack([np.column_stack([base, np.full(n, z)]) for z in (low_m, high_m)])
    ring = np.arange(n)
    after = (ring + 1) % n
    edges = np.vstack(
        [
            np.column_stack([ring, after]),
            np.column_stack([ring + n, after + n]),
            np.column_stack([ring, ring + n]),
        ]
    )
    return points, edges.astype(np.int64)


def _dome_mesh(dome: Obstruction) -> tuple[FloatArray, IntArray]:
    """Return rings of a half ellipsoid and its top, with edges along the rings and the meridians."""
    n = _round_points(dome.r_m)
    rise = np.linspace(0.0, math.pi / 2, DOME_RINGS, endpoint=False)
    rings = [
        np.column_stack(
            [
                _circle(dome.cx_m, dome.cy_m, dome.r_m * math.cos(a), n),
                np.full(n, dome.z0_m + dome.h_m * math.sin(a)),
            ]
        )
        for a in rise
    ]
    points = np.vstack([*rings, [[dome.cx_m, dome.cy_m, dome.z0_m + dome.h_m]]])
    ring = np.arange(n)
    edges = [np.column_stack([k * n + ring, k * n + (ring + 1) % n]) for k in range(DOME_RINGS)]
    edges += [np.column_stack([k * n + ring, (k + 1) * n + ring]) for k in range(DOME_RINGS - 1)]
    edges += [np.column_stack([(DOME_RINGS - 1) * n + ring, np.full(n, DOME_RINGS * n)])]
    return points, np.vstack(edges).astype(np.int64)


def _plate(frame: PanelFrame, owner: int) -> _Solid:
    corners = [
        frame.origin_m + a * frame.len_u_m * frame.axis_u + b * frame.len_v_m * frame.axis_v
        for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))
    ]
    edges = np.array([(0, 1), (1, 2), (2, 3), (3, 0)], np.int64)
    return _Solid(PLATE, owner, (0.0,) * 6, np.zeros((0, 2)), np.array(corners), edges)


def build_plan(wiring: Wiring, layout: Layout) -> Plan:
    """Return a wiring as kernel arrays."""
    strings = [string for controller in wiring.controllers for string in controller.strings]
    members = [layout.index(panel_id) for string in strings for panel_id in string]
    return Plan(
        member=np.array(members, np.int64),
        string_at=np.cumsum([0, *[len(s) for s in strings]]).astype(np.int64),
        controller_at=np.cumsum([0, *[len(c.strings) for c in wiring.controllers]]).astype(np.int64),
        tracker=np.array([TRACKERS[c.kind] for c in wiring.controllers], np.int64),
        limits=np.array([(c.v_min_v, c.v_max_v, c.v_pwm_v, c.v_start_v) for c in wiring.controllers]),
        blocking=np.array([c.is_blocking for c in wiring.controllers]),
    )


def empty_boxes(layout: Layout, n_directions: int) -> FloatArray:
    """Return room for the bounding boxes of shadow outlines (direction, plane, object, 4)."""
    return np.zeros((n_directions, len(layout.grids.frame), len(layout.shades.kind), 4))
