"""Which azimuths of a row of the grid are asked; the others follow, straight between neighbors."""

from __future__ import annotations

from typing import Any

import numpy.typing as npt

from sizing.shade.kernels.jit import kernel

Array = npt.NDArray[Any]


@kernel
def first_asked(e: int, k: int, step: int) -> int:
    """Return the first asked azimuth of a row: neighboring rows ask in each other's gaps.

    Half a step and none at all look the same in a mirror; so may the answer.
    """
    first: int = 0 if step % 2 else (e + k) % 2 * (step // 2)
    return first


@kernel
def fill_between(row: Array, first: int, step: int) -> None:
    """Write the values between asked azimuths, straight between the two on either side."""
    n = row.shape[0]
    for a in range(first, n, step):
        here, after = row[a], row[(a + step) % n]
        for i in range(1, step):
            row[(a + i) % n] = here + (after - here) * i / step


@kernel
def gather_between(weight: Array, spacing: Array) -> None:
    """Move the weight of azimuths not asked to their neighbors: a sum over filled rows stays the same."""
    n = weight.shape[2]
    for e in range(weight.shape[0]):
        for k in range(weight.shape[1]):
            step, row = spacing[e, k], weight[e, k]
            for a in range(first_asked(e, k, step), n, step):
                for i in range(1, step):
                    between, after = (a + i) % n, (a + step) % n
                    row[a] += row[between] * (1.0 - i / step)
                    row[after] += row[between] * i / step
                    row[between] = 0.0
