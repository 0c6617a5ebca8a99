"""Knows the grid of the fast path: directions of the sun relative to the vehicle, and classes of sky."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sizing.shade.scene import FloatArray

IntArray = npt.NDArray[np.int64]
N_AZIMUTH: Final = 72  # 5° apart
N_CLASS: Final = 4  # of sky, by diffuse share, equal energy
#: Elevations of the grid [°]: close where shadows are long.
ELEVATIONS_DEG: Final = (
    1.5, 4.0, 7.0, 10.0, 13.0, 16.0, 19.0, 22.0, 26.0, 30.0, 34.0, 38.0, 43.0, 48.0, 53.0, 58.0, 64.0, 70.0, 76.0, 84.0,
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class DirectionGrid:
    """Directions towards the sun (elevation, azimuth) and each one's part of the hemisphere."""

    elevation_deg: FloatArray
    azimuth_deg: FloatArray  # relative to the nose, clockwise
    directions: FloatArray  # (elevation * azimuth, 3)
    sky_weight: FloatArray  # (elevation * azimuth,) times cosine sums to the sky's share


def direction_grid(
    elevations_deg: tuple[float, ...] = ELEVATIONS_DEG, n_azimuth: int = N_AZIMUTH
) -> DirectionGrid:
    """Return the grid; a ring reaches half way to its neighbours and holds its share of a flat plane's sky."""
    elevation = np.asarray(elevations_deg)
    azimuth = 360.0 * np.arange(n_azimuth) / n_azimuth
    e, a = np.meshgrid(np.radians(elevation), np.radians(azimuth), indexing="ij")
    directions = np.stack([np.cos(e) * np.cos(a), -np.cos(e) * np.sin(a), np.sin(e)], axis=-1).reshape(-1, 3)
    edges = np.radians(np.concatenate([[0.0], (elevation[1:] + elevation[:-1]) / 2, [90.0]]))
    ring = np.diff(np.sin(edges) ** 2)
    weight = np.repeat(ring / (n_azimuth * np.sin(np.radians(elevation))), n_azimuth)
    return DirectionGrid(elevation, azimuth, np.ascontiguousarray(directions), weight)


def sky_classes(rise: FloatArray, diffuse_share: FloatArray, energy: FloatArray, n_class: int) -> IntArray:
    """Return each sample's class: its band's samples in order of diffuse share, cut into equal energies."""
    band = np.round(rise).astype(np.int64)
    order = np.lexsort((diffuse_share, band))
    sums = np.cumsum(energy[order])
    starts = np.searchsorted(band[order], np.arange(band.max() + 2))
    before = np.concatenate([[0.0], sums])
    start_sum, end_sum = before[starts[:-1]], before[starts[1:]]
    in_band = band[order]
    middle = sums - 0.5 * energy[order] - start_sum[in_band]
    total = np.maximum(end_sum - start_sum, 1e-12)[in_band]
    classes = np.empty(len(rise), np.int64)
    classes[order] = np.clip((n_class * middle / total).astype(np.int64), 0, n_class - 1)
    return classes


def node_means(
    rise: FloatArray, part: IntArray, weight: FloatArray, values: FloatArray, shape: tuple[int, int]
) -> FloatArray:
    """Return weighted means (elevation, class, column) of values (sample, column); 0 where no sample is near."""
    n_elevation, n_class = shape
    low = np.minimum(rise.astype(np.int64), max(n_elevation - 2, 0))
    upper = rise - low
    total = np.zeros(n_elevation * n_class)
    sums = np.zeros((n_elevation * n_class, values.shape[1]))
    for side in range(2 if n_elevation > 1 else 1):
        node = (low + side) * n_class + part
        share = weight * (upper if side else 1.0 - upper)
        total += np.bincount(node, share, minlength=len(total))
        for column in range(values.shape[1]):
            sums[:, column] += np.bincount(node, share * values[:, column], minlength=len(total))
    means = np.where(total[:, None] > 0.0, sums / np.maximum(total, 1e-12)[:, None], 0.0)
    return means.reshape(n_elevation, n_class, values.shape[1])
