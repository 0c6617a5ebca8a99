"""The grid of the fast path: directions of the sun relative to the vehicle, and classes of sky."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sizing.shade.scene.scene import FloatArray

IntArray = npt.NDArray[np.int64]
N_AZIMUTH: Final = 72  # 5° apart
N_SUNLIT: Final = 3  # classes of sky with beam, by diffuse share
N_OVERCAST: Final = 3  # classes of overcast sky, by brightness
OVERCAST: Final = 0.95  # diffuse share above which no shadow is cast
#: Elevations of the grid [°]: close where shadows are long.
ELEVATIONS_DEG: Final = (
    2.0, 6.0, 10.0, 14.5, 19.0, 24.0, 29.0, 34.0, 39.0, 44.5, 50.0, 55.5, 61.0, 67.0, 73.0, 80.0, 86.0,
)  # fmt: skip
LOWEST_DEG: Final = 0.3  # sun below this counts as here


@dataclass(frozen=True, slots=True, eq=False)
class DirectionGrid:
    """Directions toward the sun (elevation, azimuth) and each one's part of the hemisphere."""

    elevation_deg: FloatArray
    azimuth_deg: FloatArray  # relative to the nose, clockwise
    directions: FloatArray  # (elevation * azimuth, 3)
    sky_weight: FloatArray  # (elevation * azimuth,) times cosine sums to the sky's share


def direction_grid(
    elevations_deg: tuple[float, ...] = ELEVATIONS_DEG, n_azimuth: int = N_AZIMUTH
) -> DirectionGrid:
    """Return the grid; a ring reaches half way to its neighbors."""
    elevation = np.asarray(elevations_deg)
    azimuth = 360.0 * np.arange(n_azimuth) / n_azimuth
    e, a = np.meshgrid(np.radians(elevation), np.radians(azimuth), indexing="ij")
    directions = np.stack([np.cos(e) * np.cos(a), -np.cos(e) * np.sin(a), np.sin(e)], axis=-1).reshape(-1, 3)
    edges = np.radians(np.concatenate([[0.0], (elevation[1:] + elevation[:-1]) / 2, [90.0]]))
    ring = np.diff(np.sin(edges) ** 2)
    weight = np.repeat(ring / (n_azimuth * np.sin(np.radians(elevation))), n_azimuth)
    return DirectionGrid(elevation, azimuth, np.ascontiguousarray(directions), weight)


def grid_rise(elevation_deg: FloatArray, grid: DirectionGrid) -> FloatArray:
    """Return places on the elevation grid, straight in shadow length (the cotangent) between two rings."""
    low = np.maximum(elevation_deg, LOWEST_DEG)
    knots = -1.0 / np.tan(np.radians(grid.elevation_deg))
    return np.asarray(np.interp(-1.0 / np.tan(np.radians(low)), knots, np.arange(len(knots))))


def sky_classes(
    rise: FloatArray,
    diffuse_share: FloatArray,
    light: FloatArray,
    weight_h: FloatArray,
    counts: tuple[int, int],
) -> IntArray:
    """Return each sample's class of sky; ``counts`` of sunlit and of overcast classes.

    Sunlit samples of an elevation band are put in order of diffuse share and cut into equal sums of energy
    times diffuse share: whether a shaded group is bypassed or holds its string back is decided where most
    light is diffuse, so the classes are closer there. Overcast samples are cut by brightness into equal
    energies: in dim light the shunt eats more. With no overcast class all samples count as sunlit.
    """
    n_sunlit, n_overcast = counts
    band = np.round(rise).astype(np.int64)
    energy = light * weight_h
    overcast = (diffuse_share > OVERCAST) & (n_overcast > 0)
    classes = np.zeros(len(rise), np.int64)
    sunlit = np.flatnonzero(~overcast)
    classes[sunlit] = _cut(band[sunlit], diffuse_share[sunlit], (energy * diffuse_share)[sunlit], n_sunlit)
    cloudy = np.flatnonzero(overcast)
    classes[cloudy] = n_sunlit + _cut(band[cloudy], light[cloudy], energy[cloudy], n_overcast)
    return classes


def _cut(band: IntArray, order_by: FloatArray, weight: FloatArray, n: int) -> IntArray:
    """Return the part, of n with equal weight, in which each sample falls within its band."""
    if len(band) == 0:
        return np.zeros(0, np.int64)
    order = np.lexsort((order_by, band))
    sums = np.cumsum(weight[order])
    starts = np.searchsorted(band[order], np.arange(band.max() + 2))
    before = np.concatenate([[0.0], sums])
    start_sum, end_sum = before[starts[:-1]], before[starts[1:]]
    in_band = band[order]
    middle = sums - 0.5 * weight[order] - start_sum[in_band]
    total = np.maximum(end_sum - start_sum, 1e-12)[in_band]
    parts = np.empty(len(band), np.int64)
    parts[order] = np.clip((n * middle / total).astype(np.int64), 0, n - 1)
    return parts


def node_means(
    rise: FloatArray, part: IntArray, weight: FloatArray, values: FloatArray, shape: tuple[int, int]
) -> FloatArray:
    """Return weighted means (elevation, class, column) of values (sample, column); 0 without samples."""
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
