"""Modules, half-cut modules and strings in random shade against PVMismatch 4.1 (open cell-mismatch library).

PVMismatch adds curves on grids of voltage and current; with 4,000 points it is itself good to some 0.1 %.
Its cell has two diodes; the second is switched off and the first has ideality 1, so that both speak of one
cell. Its light is kept above 0.1 % of a sun, where its own grids break down.
"""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest

from sizing.shade.engine.geometry import branch_of_cells
from sizing.shade.scene.scene import Cell
from tests.shade_scenes import array_power_w, panel_type

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # invalid escapes in its docstrings
    from pvmismatch import PVcell, PVmodule, PVstring, PVsystem
    from pvmismatch.pvmismatch_lib.pvconstants import PVconstants
    from pvmismatch.pvmismatch_lib.pvmodule import crosstied_cellpos_pat, standard_cellpos_pat

RS, RSH, ISAT, ISC, A_RBD, V_RBD, N_RBD = 0.006, 30.0, 2e-10, 6.0, 0.1, -15.0, 3.7
CELL = Cell(ISC * (1 + RS / RSH), ISAT, 1.0, RS, RSH, 0.0, A_RBD, V_RBD, N_RBD)
FLOOR = 1e-3


@pytest.fixture(scope="module")
def constants():
    return PVconstants(npts=4000)


def their_cell(constants):
    return PVcell(
        Rs=RS, Rsh=RSH, Isat1_T0=ISAT, Isat2_T0=0.0, Isc0_T0=ISC, aRBD=A_RBD, bRBD=0.0, VRBD=V_RBD,
        nRBD=N_RBD, alpha_Isc=0.0, pvconst=constants,
    )  # fmt: skip


def their_module(constants, pattern, suns):
    cells = [their_cell(constants) for _ in range(len(suns))]
    for cell, sun in zip(cells, suns, strict=True):
        cell.Ee = sun
    return PVmodule(cell_pos=pattern, pvcells=cells, pvconst=constants)


def their_best_w(constants, strings):
    lines = [PVstring(numberMods=len(mods), pvmods=mods, pvconst=constants) for mods in strings]
    system = PVsystem(pvconst=constants, numberStrs=len(lines), pvstrs=lines, numberMods=len(strings[0]))
    return float(system.Pmp)


def random_shares(rng, n_cells):
    """Return the share of light gone from each cell: a blob of full shade with a soft edge, or nothing."""
    share = np.zeros(n_cells)
    if rng.random() < 0.7:
        first, length = rng.integers(0, n_cells), rng.integers(1, n_cells // 2)
        share[first : first + length] = 1.0
        share[rng.integers(0, n_cells, 3)] = rng.uniform(0, 1, 3)
    return share


def suns_of(shares, diffuse):
    return np.maximum((1 - shares) * (1 - diffuse) + diffuse, FLOOR)


@pytest.mark.parametrize("n_bypass", [2, 1])
def test_whole_cell_modules_in_strings(constants, n_bypass):
    rng = np.random.default_rng(5)
    kind = panel_type(nx=9, ny=4, n_bypass=n_bypass, cell=CELL)
    pattern = standard_cellpos_pat(9, [4 // n_bypass] * n_bypass)
    ours, theirs = [], []
    for _ in range(8):
        diffuse = rng.uniform(0.08, 0.4)
        shares = [random_shares(rng, 36) for _ in range(4)]
        modules = [their_module(constants, pattern, suns_of(share, diffuse)) for share in shares]
        theirs.append(their_best_w(constants, [modules[:2], modules[2:]]))
        shaded = {(p, c): float(share[c]) for p, share in enumerate(shares) for c in range(36)}
        ours.append(
            array_power_w(
                kind,
                [[0, 1], [2, 3]],
                shaded,
                beam_w_m2=1000 * (1 - diffuse),
                diffuse_w_m2=1000 * diffuse,
            )
        )
    assert ours == pytest.approx(theirs, rel=5e-3)
    assert sum(ours) == pytest.approx(sum(theirs), rel=1.5e-3)


def test_half_cut_modules(constants):
    rng = np.random.default_rng(6)
    kind = panel_type(nx=18, ny=3, n_bypass=3, halves=2, cell=CELL)
    branch = branch_of_cells(kind, 0)
    pattern = crosstied_cellpos_pat([9, 9, 9], 2, partial=True)
    order = np.concatenate([np.flatnonzero(branch == 2 * g + h) for h in (0, 1) for g in range(3)])
    ours, theirs = [], []
    for _ in range(8):
        diffuse = rng.uniform(0.08, 0.4)
        share = random_shares(rng, 54)
        theirs.append(
            their_best_w(constants, [[their_module(constants, pattern, suns_of(share[order], diffuse))]])
        )
        shaded = {(0, c): float(share[c]) for c in range(54)}
        ours.append(
            array_power_w(kind, [[0]], shaded, beam_w_m2=1000 * (1 - diffuse), diffuse_w_m2=1000 * diffuse)
        )
    assert ours == pytest.approx(theirs, rel=5e-3)
    assert sum(ours) == pytest.approx(sum(theirs), rel=1.5e-3)


def test_the_pattern_of_halves_matters(constants):
    """Shade on one half only: halves in parallel lose half of a group's current, in series all of it."""
    kind = panel_type(nx=18, ny=3, n_bypass=3, halves=2, cell=CELL)
    series = replace(kind, halves=1)
    shaded = {(0, c): 0.9 for c in range(54) if branch_of_cells(kind, 0)[c] % 2 == 0}
    open_share = array_power_w(kind, [[0]], shaded) / array_power_w(kind, [[0]], {})
    assert open_share == pytest.approx(0.55, abs=0.03)
    assert array_power_w(series, [[0]], shaded) / array_power_w(series, [[0]], {}) < 0.2
