"""Where panels may lie on a roof and what each place is worth in a year, alone on a tracker."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
import shapely.affinity

from sizing.shade.answers.maps import kind_weight
from sizing.shade.engine.cover import cover_grid
from sizing.shade.engine.geometry import Layout, branch_of_cells, build_layout, empty_boxes
from sizing.shade.engine.grid import direction_grid
from sizing.shade.engine.place import Place, build_place
from sizing.shade.kernels.kernel_cover import Grids
from sizing.shade.kernels.kernel_curve import Wires
from sizing.shade.kernels.kernel_hourly import Lights
from sizing.shade.kernels.kernel_lay import candidate_losses
from sizing.shade.scene.footprint import footprint, rectangle
from sizing.shade.scene.lay_rules import KeepOut, LayoutRules
from sizing.shade.scene.scene import (
    FloatArray,
    NoFreePlace,
    PanelType,
    PlacedPanel,
    SceneError,
    SceneInput,
)
from sizing.shade.sky.sun import Daylight

COARSE_ELEVATIONS_DEG = (4.0, 10.0, 17.0, 25.0, 34.0, 44.0, 55.0, 68.0, 82.0)
COARSE_AZIMUTHS = 36
COARSE_CLASSES = (2, 1)
COARSE_ABOVE = 55
CHUNK = 128
TOUCH_M = 1e-6  # places that only touch a rectangle do not share ground with it
FOOT_ZONE = 0.35  # of a panel's length: where its first and last row of feet may stand

Progress = Callable[[float, str], bool]
BoolArray = npt.NDArray[np.bool_]


class SearchStopped(Exception):
    """The caller asked for the search to end before there was an answer."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Places (n,): type, quarter turn, smallest corner and extent [m], steps, size in steps, worth [kWh]."""

    type_index: npt.NDArray[np.int64]
    rot_deg: npt.NDArray[np.int64]
    corner_m: FloatArray
    step: npt.NDArray[np.int64]
    size: npt.NDArray[np.int64]
    own_kwh: FloatArray
    penalty_kwh: FloatArray
    type_names: tuple[str, ...]
    extent_m: FloatArray

    @property
    def worth_kwh(self) -> FloatArray:
        """Yearly energy alone on a tracker less penalties."""
        return np.asarray(self.own_kwh - self.penalty_kwh)

    def take(self, keep: BoolArray | npt.NDArray[np.int64]) -> Candidates:
        """Return some of the candidates."""
        return Candidates(
            self.type_index[keep], self.rot_deg[keep], self.corner_m[keep], self.step[keep], self.size[keep],
            self.own_kwh[keep], self.penalty_kwh[keep], self.type_names, self.extent_m[keep],
        )  # fmt: skip

    def clear_of(self, areas: Iterable[KeepOut]) -> BoolArray:
        """Return which places share no ground with any of some rectangles."""
        free = np.ones(len(self.rot_deg), np.bool_)
        end = self.corner_m + self.extent_m
        for area in areas:
            low, high = np.array([area.x0_m, area.y0_m]), np.array([area.x1_m, area.y1_m])
            free &= ~((self.corner_m < high - TOUCH_M) & (end > low + TOUCH_M)).all(axis=1)
        return free


def find_candidates(
    scene: SceneInput, rules: LayoutRules, day: Daylight, progress: Progress | None
) -> Candidates:
    """Return every allowed place with its worth.

    Raises
    ------
    NoFreePlace
        If no panel fits anywhere.
    """
    names = rules.type_names or tuple(scene.panel_types)
    unknown = [name for name in names if name not in scene.panel_types]
    if unknown:
        raise SceneError("rules.type_names", f"names no panel type: {unknown[0]!r}")
    blocked = _blocked_area(scene, rules)
    parts = [_places(scene, rules, i, name, rot, blocked) for i, name in enumerate(names) for rot in (0, 90)]
    found = Candidates(
        type_index=np.concatenate([part.type_index for part in parts]),
        rot_deg=np.concatenate([part.rot_deg for part in parts]),
        corner_m=np.concatenate([part.corner_m for part in parts]),
        step=np.concatenate([part.step for part in parts]),
        size=np.concatenate([part.size for part in parts]),
        own_kwh=np.concatenate([part.own_kwh for part in parts]),
        penalty_kwh=np.concatenate([part.penalty_kwh for part in parts]),
        type_names=names,
        extent_m=np.concatenate([part.extent_m for part in parts]),
    )
    if not len(found.rot_deg):
        raise NoFreePlace("roof", "has no free place for any of the panel types")
    return _valued(scene, rules, day, found, progress)


def _blocked_area(scene: SceneInput, rules: LayoutRules) -> shapely.Geometry:
    shapes = []
    for thing in scene.obstructions:
        room = rules.clearance_m.get(thing.name, rules.obstruction_gap_m)
        if room >= 0.0:
            shapes.append(footprint(thing).buffer(room))
    shapes += [shapely.box(k.x0_m, k.y0_m, k.x1_m, k.y1_m) for k in rules.keep_outs]
    if rules.keep_placed:
        shapes += [rectangle(scene, panel).buffer(rules.gap_m, join_style="mitre") for panel in scene.panels]
    return shapely.union_all(shapes) if shapes else shapely.Polygon()


def _places(
    scene: SceneInput, rules: LayoutRules, type_index: int, name: str, rot: int, blocked: shapely.Geometry
) -> Candidates:
    kind = scene.panel_types[name]
    len_x, len_y = (kind.len_x_m, kind.len_y_m) if rot == 0 else (kind.len_y_m, kind.len_x_m)
    counts = [
        int(np.floor((roof - 2 * rules.edge_m - size) / rules.grid_m + 1e-9)) + 1
        for roof, size in ((scene.roof.len_x_m, len_x), (scene.roof.len_y_m, len_y))
    ]
    if len_x == len_y and rot == 90:
        counts = [0, 0]
    i, j = np.meshgrid(np.arange(max(counts[0], 0)), np.arange(max(counts[1], 0)), indexing="ij")
    step = np.column_stack([i.ravel(), j.ravel()]).astype(np.int64)
    corner = np.asarray(rules.edge_m + step * rules.grid_m, float)
    rects = shapely.box(corner[:, 0], corner[:, 1], corner[:, 0] + len_x, corner[:, 1] + len_y)
    shapely.prepare(blocked)
    free = ~shapely.intersects(blocked, rects) | shapely.touches(blocked, rects)
    free &= _on_rafters(corner[:, 0], len_x, rules.rafters_x_m)
    step, corner = step[free], corner[free]
    n = len(step)
    size = [int(np.ceil((length + rules.gap_m) / rules.grid_m - 1e-9)) for length in (len_x, len_y)]
    return Candidates(
        np.full(n, type_index, np.int64), np.full(n, rot, np.int64), corner, step,
        np.tile(np.array(size, np.int64), (n, 1)), np.zeros(n),
        _penalty(rules, name, corner, (len_x, len_y)), (), np.tile(np.array([len_x, len_y]), (n, 1)),
    )  # fmt: skip


def _on_rafters(x_m: FloatArray, len_x_m: float, rafters_x_m: tuple[float, ...]) -> BoolArray:
    """Return which places have a rafter near each end to carry the feet; all where no rafter is known."""
    if not rafters_x_m:
        return np.ones(len(x_m), np.bool_)
    rafters = np.asarray(rafters_x_m)[None, :]
    zone = FOOT_ZONE * len_x_m
    rear = ((rafters >= x_m[:, None]) & (rafters <= x_m[:, None] + zone)).any(axis=1)
    end = x_m[:, None] + len_x_m
    return np.asarray(rear & ((rafters >= end - zone) & (rafters <= end)).any(axis=1))


def _penalty(rules: LayoutRules, name: str, corner: FloatArray, size: tuple[float, float]) -> FloatArray:
    """Return what is taken off a place's energy for holes, wire and weight [kWh]."""
    cost = np.full(len(corner), rules.holes.get(name, rules.holes_per_panel) * rules.hole_cost_kwh)
    cost += rules.mass_kg.get(name, 0.0) * rules.mass_cost_kwh_kg
    if rules.gland_x_m is not None and rules.gland_y_m is not None:
        middle = corner + np.asarray(size) / 2
        away = np.abs(middle - np.array([rules.gland_x_m, rules.gland_y_m])).sum(axis=1)
        cost += away * rules.wire_cost_kwh_m
    return cost


def _valued(
    scene: SceneInput, rules: LayoutRules, day: Daylight, found: Candidates, progress: Progress | None
) -> Candidates:
    """Return the candidates with their own-tracker energy, from a coarse grid of directions."""
    stand_ins = tuple(PlacedPanel(name, name, 0.0, 0.0, rules.panel_z_m) for name in found.type_names)
    bare = replace(scene, panels=stand_ins, wirings=(), pitch_deg=0.0, roll_deg=0.0)
    layout = build_layout(bare)
    grid = direction_grid(COARSE_ELEVATIONS_DEG, COARSE_AZIMUTHS)
    place = build_place(bare, layout, day, grid=grid, classes=COARSE_CLASSES, above=COARSE_ABOVE)
    weight = np.stack([kind_weight(place, k) for k in range(len(layout.kind_types))]) / 1000.0
    full = place.samples.weight_h @ place.own_w / 1000.0
    lost = np.zeros(len(found.rot_deg))
    for start in range(0, len(lost), CHUNK):
        rows = slice(start, start + CHUNK)
        lost[rows] = _chunk_losses(bare, layout, place, weight, found, rows)
        if progress is not None and not progress(0.4 * start / len(lost), "valuing places"):
            raise SearchStopped("stopped while valuing places")
    return replace(found, own_kwh=full[found.type_index] - lost)


def _chunk_losses(
    scene: SceneInput, layout: Layout, place: Place, weight: FloatArray, found: Candidates, rows: slice
) -> FloatArray:
    kinds = [scene.panel_types[name] for name in found.type_names]
    picked = list(zip(found.type_index[rows], found.rot_deg[rows], found.corner_m[rows], strict=True))
    made = [_cells_of(kinds[t], int(rot)) for t, rot, _ in picked]
    counts = np.array([grid_size for grid_size, _, _ in made], np.int64)
    first = np.concatenate([[0], np.cumsum(counts.prod(axis=1))]).astype(np.int64)
    n = len(picked)
    grids = Grids(
        frame=layout.grids.frame[:1],
        is_flat=layout.grids.is_flat[:1],
        plane=np.zeros(n, np.int64),
        corner=np.array([corner + kinds[t].margin_m for t, _, corner in picked]),
        pitch=np.array([pitch for _, pitch, _ in made]),
        cells=counts,
        first=first,
    )
    wires = Wires(found.type_index[rows].copy(), first, np.concatenate([branch for _, _, branch in made]))
    n_directions = len(place.grid.directions)
    share, touched = np.zeros((n_directions, first[-1])), np.zeros((n_directions, n), np.bool_)
    boxes = empty_boxes(layout, n_directions)[:, :1].copy()
    sky = 1.0 - cover_grid(layout.shades, grids, place.grid, np.ones(n, np.bool_), share, touched, boxes)
    lost = np.zeros(n)
    states = place.states
    candidate_losses(
        layout.kinds, wires,
        Lights(states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2, states.temp_cell_c),
        place.n_sunlit, place.steps, place.tables, place.own_state_w, weight, share, touched,
        np.clip(sky, 0.0, 1.0), COARSE_ABOVE, lost,
    )  # fmt: skip
    return lost


@lru_cache(maxsize=64)
def _cells_of(
    kind: PanelType, rot: int
) -> tuple[tuple[int, int], tuple[float, float], npt.NDArray[np.int64]]:
    """Return cell counts, cell size and branches of a type in one orientation."""
    inner_x, inner_y = kind.len_x_m - 2 * kind.margin_m, kind.len_y_m - 2 * kind.margin_m
    count, size = (kind.nx, kind.ny), (inner_x / kind.nx, inner_y / kind.ny)
    if rot == 90:
        count, size = (count[1], count[0]), (size[1], size[0])
    return count, size, branch_of_cells(kind, rot)
