"""The yearly beam lost by every cell, for drawing."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sizing.shade.engine.fast import Shadows, cast_shadows
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.known_place import place_for
from sizing.shade.engine.place import Place
from sizing.shade.scene.scene import FloatArray, SceneInput


@dataclass(frozen=True, slots=True)
class PanelBeam:
    """One panel: share of yearly beam each cell loses, row by row along y, cells along x in a row."""

    panel_id: str
    columns: int
    beam_lost_fraction: tuple[float, ...]
    sky_lost_fraction: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BeamMap:
    """The yearly beam lost per cell, mean of headings."""

    panels: tuple[PanelBeam, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the map as plain JSON values."""
        return asdict(self)


def beam_lost_map(scene: SceneInput) -> BeamMap:
    """Return the share of yearly beam every cell loses to the objects on the roof.

    Parameters
    ----------
    scene : SceneInput
        The roof.

    Returns
    -------
    BeamMap
        Shares by cell, mean of the scene's headings. [-]

    Raises
    ------
    SceneError
        If the weather cannot be read.

    References
    ----------
    .. [1] Plane geometry; no source needed.
    """
    layout = build_layout(scene)
    place = place_for(scene, layout)
    shadows = cast_shadows(place, layout)
    lost = cell_beam_lost(place, shadows)
    panels = []
    for p, panel_id in enumerate(layout.panel_ids):
        cells = slice(int(layout.grids.first[p]), int(layout.grids.first[p + 1]))
        opened = place.sky_open[layout.wires.kind[p]]
        panels.append(
            PanelBeam(
                panel_id,
                int(layout.grids.cells[p, 0]),
                tuple(lost[cells].tolist()),
                tuple((1.0 - shadows.sky[cells] / opened).tolist()),
            )
        )
    return BeamMap(tuple(panels))


def cell_beam_lost(place: Place, shadows: Shadows) -> FloatArray:
    """Return the share of usable yearly beam lost by each cell, mean of headings."""
    layout = shadows.layout
    n_elevation, _, n_azimuth = place.state_of.shape
    lost = np.zeros(layout.n_cells)
    for k in range(len(layout.kind_types)):
        beam = place.states.beam_w_m2[:, k][place.state_of]
        own = np.maximum(place.own_state_w[:, k][place.state_of], 1e-12)
        worth = (kind_weight(place, k) * beam / own).sum(axis=1).reshape(-1)
        total = worth.sum()
        share = shadows.share[: n_elevation * n_azimuth]
        for p in np.flatnonzero(layout.wires.kind == k):
            cells = slice(int(layout.grids.first[p]), int(layout.grids.first[p + 1]))
            lost[cells] = worth @ share[:, cells] / total if total > 0 else 0.0
    return lost


def kind_weight(place: Place, k: int) -> FloatArray:
    """Return a bare panel's yearly energy at each node (elevation, class, azimuth), mean of headings."""
    year = place.maps[k].sum(axis=0)
    if not place.level:
        return np.asarray(year / len(place.headings_deg))
    turns = np.round(place.headings_deg / 360.0 * place.state_of.shape[2]).astype(np.int64)
    return np.asarray(np.mean([np.roll(year, -turn, axis=2) for turn in turns], axis=0))
