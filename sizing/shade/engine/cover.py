"""How a whole grid of directions is covered: shares of cells in shadow, and the sky that is hidden."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sizing.shade.engine.grid import DirectionGrid
from sizing.shade.engine.threads import in_pieces
from sizing.shade.kernels.kernel_cover import Grids, Shades
from sizing.shade.kernels.kernel_nodes import cover_nodes
from sizing.shade.scene.scene import FloatArray


def cover_grid(
    shades: Shades,
    grids: Grids,
    grid: DirectionGrid,
    wanted: npt.NDArray[np.bool_],
    share: FloatArray,
    touched: npt.NDArray[np.bool_],
    boxes: FloatArray,
    *,
    is_boxed: bool = False,
) -> FloatArray:
    """Write covered share (direction, cell) and touched (direction, panel); return each cell's hidden sky.

    Only cells of the ``wanted`` panels count. ``boxes`` (direction, plane, object, 4) are the bounding boxes
    of the outlines, written unless ``is_boxed``.
    """
    hidden = np.zeros((len(grid.elevation_deg), share.shape[1]))
    in_pieces(
        cover_nodes, shades, grids, grid.directions, grid.sky_weight, wanted, share, touched, hidden, boxes,
        is_boxed,
    )  # fmt: skip
    return np.asarray(hidden.sum(axis=0))
