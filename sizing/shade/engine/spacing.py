"""How far apart a row of the grid is asked: rows with little of the year's energy, less often."""

from __future__ import annotations

from typing import Final

import numpy as np

from sizing.shade.engine.grid import IntArray
from sizing.shade.kernels.kernel_spacing import gather_between
from sizing.shade.scene.scene import FloatArray

#: Below these shares of the year's energy a row is asked every so many azimuths.
SPARSE: Final = ((0.03, 2), (0.006, 6))
FEWEST: Final = 12  # azimuths of a row, 30° apart


def node_spacing(maps: FloatArray, n_sunlit: int) -> IntArray:
    """Return how many azimuths apart each row (elevation, class) is asked.

    ``maps`` (..., elevation, class, azimuth) is the energy at each node. What a row loses counts in the year
    as much as the row's energy, and so does the error of going straight over 10 or 30 degrees.
    """
    n_azimuth = maps.shape[-1]
    energy = maps.sum(axis=-1).reshape(-1, *maps.shape[-3:-1]).sum(axis=0)
    share = energy / max(energy.sum(), 1e-12)
    spacing = np.ones(share.shape, np.int64)
    for below, step in SPARSE:
        spacing[share < below] = step
    spacing[:, n_sunlit:] = 1
    return np.gcd(np.minimum(spacing, max(1, n_azimuth // FEWEST)), n_azimuth)


def asked_weight(weight: FloatArray, spacing: IntArray, coarser: int = 1) -> FloatArray:
    """Return the weight (elevation, class, azimuth) of asked nodes only, so many times further apart."""
    made = weight.copy()
    gather_between(made, np.gcd(spacing * coarser, weight.shape[2]))
    return made
