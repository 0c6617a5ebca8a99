"""What many candidate places lose to shade, each alone on a tracker, without keeping their curves."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import NO, kernel
from sizing.shade.kernels.kernel_curve import BELOW, Kinds, Wires, curve_work, panel_curve
from sizing.shade.kernels.kernel_hourly import Lights
from sizing.shade.kernels.kernel_string import BEST_PEAK, lone_string

Array = npt.NDArray[Any]


@kernel
def candidate_losses(
    kinds: Kinds,
    wires: Wires,
    lights: Lights,
    n_sunlit: int,
    steps: Array,
    tables: Array,
    own: Array,
    weight: Array,
    share: Array,
    touched: Array,
    sky: Array,
    above: int,
    lost: Array,
) -> None:
    """Write each panel's yearly loss [kWh]; ``own`` (state, kind) is the bare power.

    States run over (elevation, class): a level roof. ``weight`` (kind, elevation, class, azimuth) is the
    energy of a bare panel at each node.
    """
    bins = curve_work(wires, above)
    filled, row, hold, place, line = bins.filled, bins.row, bins.weight, bins.place, bins.curve
    none, out = np.zeros(wires.branch.shape[0]), np.zeros(above + BELOW + 1, np.float32)
    n_elevation, n_class, n_azimuth = weight.shape[1], weight.shape[2], weight.shape[3]
    for p in range(wires.kind.shape[0]):
        m, first, last = wires.kind[p], wires.first[p], wires.first[p + 1]
        lost[p] = 0.0
        for e in range(n_elevation):
            for k in range(n_class):
                s = e * n_class + k
                if own[s, m] <= 0.0:
                    continue
                light = (lights.beam[s, m], lights.diffuse[s, m], lights.extra[s, m])
                panel_curve(
                    kinds.cell, kinds.make, m, wires.branch, first, last, tables[s, m], none, sky, light,
                    lights.temp_c[s, m], steps[s], NO, out, filled, row, hold, place, line,
                )  # fmt: skip
                even = lone_string(out, steps[s], BEST_PEAK, 0.0, 1e9)[0]
                for a in range(n_azimuth):
                    power = even
                    d = e * n_azimuth + a
                    if k < n_sunlit and touched[d, p]:
                        panel_curve(
                            kinds.cell, kinds.make, m, wires.branch, first, last, tables[s, m], share[d],
                            sky, light, lights.temp_c[s, m], steps[s], NO, out, filled, row, hold, place,
                            line,
                        )  # fmt: skip
                        power = lone_string(out, steps[s], BEST_PEAK, 0.0, 1e9)[0]
                    lost[p] += weight[m, e, k, a] * (1.0 - power / own[s, m])
