"""Where panels may lie on a roof and what each place is worth in a year, alone on a tracker."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sizing.shade.answers.maps import kind_weight
from sizing.shade.engine.cover import cover_grid
from sizing.shade.engine.geometry import Layout, branch_of_cells, build_layout, empty_boxes
from sizing.shade.engine.grid import direction_grid
from sizing.shade.engine.place import Place, build_place
from sizing.shade.kernels.kernel_cover import Grids
from sizing.shade.kernels.kernel_curve import Wires
from sizing.shade.kernels.kernel_hourly import Lights
from sizing.shade.kernels.kernel_lay import candidate_losses
from sizing.shade.layout.places import (
    SLACK_M,
    TICKS_M,
    TOUCH_M,
    BoolArray,
    Ground,
    free_places,
    ground_of,
    ticks,
    ticks_up,
)
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

Progress = Callable[[float, str], bool]


class SearchStopped(Exception):
    """The caller asked for the search to end before there was an answer."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Places (n,): type, quarter turn, smallest corner and extent [m], worth [kWh].

    ``step`` and ``size`` are corner and extent with the gap to a neighbor, in whole ticks: two places go
    together where these do not overlap. ``is_drawn``: a person laid a panel there.
    """

    type_index: npt.NDArray[np.int64]
    rot_deg: npt.NDArray[np.int64]
    corner_m: FloatArray
    step: npt.NDArray[np.int64]
    size: npt.NDArray[np.int64]
    own_kwh: FloatArray
    penalty_kwh: FloatArray
    type_names: tuple[str, ...]
    extent_m: FloatArray
    is_drawn: BoolArray

    @property
    def worth_kwh(self) -> FloatArray:
        """Yearly energy alone on a tracker less penalties."""
        return np.asarray(self.own_kwh - self.penalty_kwh)

    def take(self, keep: BoolArray | npt.NDArray[np.int64]) -> Candidates:
        """Return some of the candidates."""
        return Candidates(
            self.type_index[keep], self.rot_deg[keep], self.corner_m[keep], self.step[keep], self.size[keep],
            self.own_kwh[keep], self.penalty_kwh[keep], self.type_names, self.extent_m[keep],
            self.is_drawn[keep],
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
    scene: SceneInput,
    rules: LayoutRules,
    day: Daylight,
    progress: Progress | None,
    drawn: Iterable[PlacedPanel] = (),
) -> Candidates:
    """Return every allowed place with its worth; those of ``drawn`` that keep the rules are among them.

    Raises
    ------
    NoFreePlace
        If no panel fits anywhere.
    """
    return _valued(scene, rules, day, places_to_try(scene, rules, drawn), progress)


def places_to_try(scene: SceneInput, rules: LayoutRules, drawn: Iterable[PlacedPanel] = ()) -> Candidates:
    """Return every allowed place, not yet valued.

    Raises
    ------
    NoFreePlace
        If no panel fits anywhere.
    """
    names = rules.type_names or tuple(scene.panel_types)
    unknown = [name for name in names if name not in scene.panel_types]
    if unknown:
        raise SceneError("rules.type_names", f"names no panel type: {unknown[0]!r}")
    ground, stand = ground_of(scene, rules), tuple(drawn)
    kinds = [(i, name, rot) for i, name in enumerate(names) for rot in _turns(scene.panel_types[name])]
    parts = [_places_of(scene, rules, ground, kind, stand) for kind in kinds]
    joined = {
        one: np.concatenate([getattr(part, one) for part in parts])
        for one in ("type_index", "rot_deg", "corner_m", "step", "size", "own_kwh", "penalty_kwh")
    }
    found = Candidates(
        **joined,
        type_names=names,
        extent_m=np.concatenate([part.extent_m for part in parts]),
        is_drawn=np.concatenate([part.is_drawn for part in parts]),
    )
    if not len(found.rot_deg):
        raise NoFreePlace("roof", "has no free place for any of the panel types")
    return found


def _turns(kind: PanelType) -> tuple[int, ...]:
    """Return the quarter turns that make a difference [°]."""
    return (0,) if kind.len_x_m == kind.len_y_m else (0, 90)


def _alike(kind: PanelType, rot: int) -> tuple[int, ...]:
    """Return the quarter turns in which a panel covers the same ground [°]."""
    return (0, 90) if len(_turns(kind)) == 1 else (rot,)


def _places_of(
    scene: SceneInput,
    rules: LayoutRules,
    ground: Ground,
    kind: tuple[int, str, int],
    drawn: Iterable[PlacedPanel],
) -> Candidates:
    """Return the places of one type (its place in the list, its name) in one turn, not yet valued."""
    type_index, name, rot = kind
    sheet = scene.panel_types[name]
    size = (sheet.len_x_m, sheet.len_y_m) if rot == 0 else (sheet.len_y_m, sheet.len_x_m)
    same = (
        one
        for one in drawn
        if one.type_name == name and not one.tilt_deg and one.rot_deg in _alike(sheet, rot)
    )
    found = free_places(scene, rules, ground, size, same)
    n = len(found.corner)
    slack = np.where(found.is_drawn, ticks(SLACK_M), 0)[:, None]
    whole = np.array([ticks_up(length + rules.gap_m) for length in size], np.int64)
    corner = found.corner / TICKS_M
    return Candidates(
        np.full(n, type_index, np.int64), np.full(n, rot, np.int64), corner, found.corner + slack,
        np.tile(whole, (n, 1)) - 2 * slack, np.zeros(n),
        _penalty(rules, name, corner, size), (), np.tile(np.array(size), (n, 1)), found.is_drawn,
    )  # fmt: skip


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
