"""How a data sheet becomes a panel type of a scene: cell grid, bypass groups and single-diode cell."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sizing.core.inputs import PanelSpec, SingleDiode
from sizing.shade.kernels.kernel_curve import BOLTZMANN_EV_K, T_REF_K
from sizing.shade.scene.scene import Cell, PanelType, SceneError

KT_V = BOLTZMANN_EV_K * T_REF_K
MARGIN_M = 0.015  # from frame edge to cells; common practice, no source
IDEALITIES = (1.15, 1.1, 1.05, 1.0, 0.95, 0.9, 0.8)  # tried in turn; common practice, no source
SHUNT_SHARE = 0.004  # of the short-circuit current lost in the shunt at Vmp; common practice, no source
ROWS = (2, 3, 4, 5, 6, 8, 10, 12)
VOC_PER_CELL_V = 0.65  # to guess a missing cell count; common practice, no source


@dataclass(frozen=True, slots=True)
class CellGrid:
    """Columns along the length, rows across, bypass diodes, branches in parallel per group."""

    nx: int
    ny: int
    n_bypass: int
    halves: int


def panel_type_from_sheet(panel: PanelSpec) -> PanelType:
    """Return the panel type of a data sheet.

    Parameters
    ----------
    panel : PanelSpec
        Data sheet; a missing cell count is guessed from Voc, missing diodes from the cell grid. [V], [A], [m]

    Returns
    -------
    PanelType
        With the cell of its single-diode parameters, or of a curve through Isc, Voc and the rated point.

    Raises
    ------
    SceneError
        If no cell grid fits the cell count, or no curve passes the three points.

    Notes
    -----
    The shunt is taken constant with light, which the open list's model lets grow as light falls: at 200 W/m²
    this reads a few percent low.

    References
    ----------
    .. [1] De Soto, Klein, Beckman (2006), Solar Energy 80, 78-88.
    """
    in_series = panel.cells_in_series or max(1, round(panel.voc_v / VOC_PER_CELL_V))
    grid = guess_grid(panel, in_series)
    made = _from_diode(panel.single_diode, in_series, grid) if panel.single_diode else None
    return PanelType(
        name=panel.name,
        len_x_m=panel.length_m,
        len_y_m=panel.width_m,
        nx=grid.nx,
        ny=grid.ny,
        n_bypass=grid.n_bypass,
        halves=grid.halves,
        margin_m=MARGIN_M,
        cell=made or _through_points(panel, in_series, grid),
    )


def panel_type_json(panel: PanelSpec) -> dict[str, Any]:
    """Return the panel type of a data sheet in the words of a scene file.

    Parameters
    ----------
    panel : PanelSpec
        Data sheet. [V], [A], [m]

    Returns
    -------
    dict
        An entry of ``panel_types``. [m], [A], [Ω], [V]

    Raises
    ------
    SceneError
        As :func:`panel_type_from_sheet`.

    References
    ----------
    .. [1] De Soto, Klein, Beckman (2006), Solar Energy 80, 78-88.
    """
    made = panel_type_from_sheet(panel)
    cell = made.cell
    return {
        "lx": made.len_x_m,
        "ly": made.len_y_m,
        "nx": made.nx,
        "ny": made.ny,
        "n_bypass": made.n_bypass,
        "halves": made.halves,
        "margin": made.margin_m,
        "cell": {
            "IL": cell.light_current_a,
            "I0": cell.saturation_current_a,
            "n": cell.ideality,
            "Rs": cell.series_ohm,
            "Rsh": cell.shunt_ohm,
            "alpha_A_K": cell.alpha_a_per_k,
            "breakdown_factor": cell.breakdown_factor,
            "breakdown_voltage": cell.breakdown_v,
            "breakdown_exp": cell.breakdown_exp,
        },
    }


def guess_grid(panel: PanelSpec, in_series: int) -> CellGrid:
    """Return the cell grid whose cells come nearest to square (half-cut: twice as wide as long)."""
    halves = 2 if panel.is_half_cut else 1
    total = in_series * halves
    wanted = 1.0 / halves  # length of a cell along the panel over its width
    best: tuple[float, CellGrid] | None = None
    for ny in ROWS:
        nx, rest = divmod(total, ny)
        if rest or nx < 1 or nx % halves:
            continue
        n_bypass = panel.bypass_diodes if panel.bypass_diodes is not None else max(1, ny // 2)
        if ny % max(1, n_bypass):
            continue
        shape = (panel.length_m / nx) / (panel.width_m / ny)
        off = abs(math.log(shape / wanted))
        if best is None or off < best[0]:
            best = (off, CellGrid(nx, ny, n_bypass, halves))
    if best is None:
        diodes = "" if panel.bypass_diodes is None else f" with {panel.bypass_diodes} bypass diodes"
        raise SceneError("cells_in_series", f"no rectangular cell grid has {total} cells{diodes}")
    return best[1]


def _from_diode(diode: SingleDiode, in_series: int, grid: CellGrid) -> Cell:
    share = grid.halves
    return Cell(
        light_current_a=diode.i_l_ref_a / share,
        saturation_current_a=diode.i_o_ref_a / share,
        ideality=diode.a_ref_v / (in_series * KT_V),
        series_ohm=diode.r_s_ohm * share / in_series,
        shunt_ohm=diode.r_sh_ref_ohm * share / in_series,
        alpha_a_per_k=diode.alpha_sc_a_per_c / share,
    )


def _through_points(panel: PanelSpec, in_series: int, grid: CellGrid) -> Cell:
    """Return a cell whose curve passes short circuit, open circuit and the rated point."""
    share = grid.halves
    isc, imp = panel.isc_a / share, panel.imp_a / share
    voc, vmp = panel.voc_v / in_series, panel.vmp_v / in_series
    shunt = vmp / (SHUNT_SHARE * isc)
    for ideality in IDEALITIES:
        thermal = ideality * KT_V
        saturation = (isc - voc / shunt) / math.expm1(voc / thermal)
        spare = isc - imp - vmp / shunt
        if spare <= 0.0:
            break
        series = (thermal * math.log1p(spare / saturation) - vmp) / imp
        if series >= 0.0:
            return Cell(
                light_current_a=isc,
                saturation_current_a=saturation,
                ideality=ideality,
                series_ohm=series,
                shunt_ohm=shunt,
                alpha_a_per_k=panel.alpha_isc_fraction_per_c * isc,
            )
    raise SceneError(
        "panel",
        f"no cell curve passes Voc {panel.voc_v} V, Isc {panel.isc_a} A, {panel.vmp_v} V × {panel.imp_a} A",
    )
