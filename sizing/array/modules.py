"""Real modules: searches the open CEC list that ships with pvlib, reads and fits data sheets."""

from __future__ import annotations

import csv
import importlib.util
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sizing.array.diode import DiodePoint, diode_point
from sizing.core.contradictions import power_gap_words
from sizing.core.inputs import InputNeeded, InputOutOfRange, PanelSpec, SingleDiode

if TYPE_CHECKING:
    from collections.abc import Iterator

CEC_FILE: Final = "sam-library-cec-modules-2019-03-05.csv"
CEC_SOURCE: Final = "CEC module list of 2019-03-05 in NREL SAM's form, as bundled with pvlib (BSD-3-Clause)"
CELL_VOC_V: Final = (0.45, 0.80)  # open-circuit volts of one silicon cell at 25 °C [V]
THERMAL_V: Final = 0.0256926  # k·T/q at 25 °C [V]
MOST_FOUND: Final = 200


class FitFailed(ValueError):
    """No single-diode parameters describe this data sheet; the message says which values to look at."""


@dataclass(frozen=True, slots=True)
class ModuleData:
    """A row of the open module list. Coefficients per °C; ``length_m`` and ``width_m`` may be missing."""

    name: str
    technology: str
    pmp_w: float
    vmp_v: float
    imp_a: float
    voc_v: float
    isc_a: float
    alpha_isc_fraction_per_c: float
    beta_voc_fraction_per_c: float
    gamma_pmp_fraction_per_c: float
    cells_in_series: int
    area_m2: float
    length_m: float | None
    width_m: float | None
    noct_c: float
    single_diode: SingleDiode
    source: str = CEC_SOURCE


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two or more fields of a data sheet that cannot both be right."""

    fields: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class DiodeFit:
    """Single-diode parameters of a data sheet and how far the model misses the sheet, as fractions."""

    single_diode: SingleDiode
    errors: tuple[tuple[str, float], ...]
    method: str

    @property
    def worst_error(self) -> float:
        """Return the largest miss, without its sign [-]."""
        return max(abs(error) for _, error in self.errors)


def find_modules(
    words: str, *, pmp_from_w: float = 0.0, pmp_to_w: float = math.inf, limit: int = 20
) -> tuple[ModuleData, ...]:
    """Return modules of the open list whose name holds all the words and whose power lies in a range.

    Parameters
    ----------
    words : str
        Parts of maker and model in any order and case; empty matches all. [-]
    pmp_from_w, pmp_to_w : float
        Rated power. [W]
    limit : int
        At most so many, 1 to 200. [-]

    Returns
    -------
    tuple of ModuleData
        In the order of the list. [W], [V], [A]

    Raises
    ------
    InputOutOfRange
        If ``limit`` lies outside 1 to 200 or the power range is upside down.

    References
    ----------
    .. [1] CEC module list of 2019-03-05, NREL SAM, as bundled with pvlib.
    """
    if not 1 <= limit <= MOST_FOUND:
        raise InputOutOfRange("limit", f"must be 1 to {MOST_FOUND}, got {limit}")
    if not pmp_from_w <= pmp_to_w:
        raise InputOutOfRange("pmp_from_w", f"must not exceed pmp_to_w, got {pmp_from_w} and {pmp_to_w} W")
    wanted = words.lower().split()
    found = []
    for row in _rows_with(wanted):
        if pmp_from_w <= float(row["STC"]) <= pmp_to_w:
            found.append(_module(row))
            if len(found) == limit:
                break
    return tuple(found)


def module_by_name(name: str) -> ModuleData:
    """Return the module of the open list with exactly this name.

    Parameters
    ----------
    name : str
        As :func:`find_modules` gives it. [-]

    Returns
    -------
    ModuleData
        Its data. [W], [V], [A]

    Raises
    ------
    LookupError
        If there is no such module.

    References
    ----------
    .. [1] CEC module list of 2019-03-05, NREL SAM, as bundled with pvlib.
    """
    row = next((row for row in _rows_with(name.lower().split()) if row["Name"] == name), None)
    if row is None:
        raise LookupError(f"no module named {name!r} in the open list")
    return _module(row)


def panel_from_module(
    module: ModuleData,
    *,
    mass_kg: float,
    thickness_m: float = 0.035,
    length_m: float | None = None,
    width_m: float | None = None,
    max_series_fuse_a: float | None = None,
) -> PanelSpec:
    """Return a row of the open list as a panel, with what the list does not hold.

    Parameters
    ----------
    module : ModuleData
        A row of the list. [W], [V], [A]
    mass_kg, thickness_m : float
        From the data sheet. [kg], [m]
    length_m, width_m : float or None
        Needed where the list has none. [m]
    max_series_fuse_a : float or None
        From the data sheet; ``None`` is not known. [A]

    Returns
    -------
    PanelSpec
        With its single-diode parameters. [W], [V], [A]

    Raises
    ------
    InputOutOfRange
        If length or width is in neither place.

    References
    ----------
    .. [1] CEC module list of 2019-03-05, NREL SAM, as bundled with pvlib.
    """
    length, width = length_m or module.length_m, width_m or module.width_m
    if length is None or width is None:
        raise InputOutOfRange("length_m", "length and width are not in the list: give them in m")
    return PanelSpec(
        name=module.name,
        pmp_w=module.pmp_w,
        vmp_v=module.vmp_v,
        imp_a=module.imp_a,
        voc_v=module.voc_v,
        isc_a=module.isc_a,
        length_m=length,
        width_m=width,
        thickness_m=thickness_m,
        mass_kg=mass_kg,
        beta_voc_fraction_per_c=module.beta_voc_fraction_per_c,
        gamma_pmp_fraction_per_c=module.gamma_pmp_fraction_per_c,
        alpha_isc_fraction_per_c=module.alpha_isc_fraction_per_c,
        max_series_fuse_a=max_series_fuse_a,
        cells_in_series=module.cells_in_series,
        single_diode=module.single_diode,
    )


def sheet_contradictions(panel: PanelSpec) -> tuple[Contradiction, ...]:
    """Return what in a data sheet cannot be right.

    Parameters
    ----------
    panel : PanelSpec
        As typed. [W], [V], [A]

    Returns
    -------
    tuple of Contradiction
        Each names its fields; empty for a sheet that hangs together. [-]

    Raises
    ------
    Nothing
        A bad sheet is an answer.

    References
    ----------
    .. [1] Ohm's law and the shape of a solar cell's curve; no source needed.
    """
    return tuple(_contradictions(panel))


def fit_single_diode(panel: PanelSpec) -> DiodeFit:
    """Return single-diode parameters for a data sheet typed by hand, and how far they miss it.

    Parameters
    ----------
    panel : PanelSpec
        Data sheet with voltage coefficient and cell count. [W], [V], [A]

    Returns
    -------
    DiodeFit
        Parameters and the miss of each printed value. [-]

    Raises
    ------
    InputOutOfRange
        If the sheet contradicts itself; InputNeeded if coefficient or cell count is missing.
    FitFailed
        If no parameters describe the sheet.

    Notes
    -----
    pvlib's De Soto fitter, tried from several starting points, the best kept. The miss of the power
    coefficient is left out where the sheet has none.

    References
    ----------
    .. [1] De Soto, Klein and Beckman (2006), Solar Energy 80, 78-88; pvlib ``ivtools.sdm.fit_desoto``.
    """
    for found in sheet_contradictions(panel):
        raise InputOutOfRange(f"panel.{found.fields[0]}", found.sentence)
    if panel.beta_voc_fraction_per_c is None:
        raise InputNeeded("panel.beta_voc_fraction_per_c", "is needed to fit the single-diode model")
    if panel.cells_in_series is None:
        raise InputNeeded("panel.cells_in_series", "is needed to fit the single-diode model")
    fits = [DiodeFit(diode, _misses(panel, diode), "De Soto, pvlib") for diode in _attempts(panel)]
    if not fits:
        raise FitFailed(
            f"no single-diode parameters describe {panel.name}: look at voc_v, vmp_v, isc_a, imp_a and the"
            " voltage coefficient"
        )
    return min(fits, key=lambda fit: fit.worst_error)


def _contradictions(panel: PanelSpec) -> Iterator[Contradiction]:
    if panel.vmp_v >= panel.voc_v:
        yield Contradiction(("vmp_v", "voc_v"), f"Vmp {panel.vmp_v:g} V must be below Voc {panel.voc_v:g} V")
    if panel.imp_a >= panel.isc_a:
        yield Contradiction(("imp_a", "isc_a"), f"Imp {panel.imp_a:g} A must be below Isc {panel.isc_a:g} A")
    words = power_gap_words(pmp_w=panel.pmp_w, vmp_v=panel.vmp_v, imp_a=panel.imp_a)
    if words is not None:
        yield Contradiction(("pmp_w", "vmp_v", "imp_a"), words)
    if panel.cells_in_series:
        per_cell_v = panel.voc_v / panel.cells_in_series
        if not CELL_VOC_V[0] <= per_cell_v <= CELL_VOC_V[1]:
            yield Contradiction(
                ("cells_in_series", "voc_v"),
                f"{panel.cells_in_series} cells in series would have {per_cell_v:.2f} V each,"
                f" {CELL_VOC_V[0]:g} to {CELL_VOC_V[1]:g} V is possible",
            )
    efficiency = panel.pmp_w / (1000.0 * panel.length_m * panel.width_m)
    if efficiency > 0.30:
        yield Contradiction(
            ("length_m", "width_m", "pmp_w"),
            f"{panel.pmp_w:g} W from this area would be {efficiency:.0%} efficient; check length and width",
        )
    if panel.max_series_fuse_a is not None and panel.max_series_fuse_a <= panel.isc_a:
        yield Contradiction(
            ("max_series_fuse_a", "isc_a"),
            f"a series fuse of {panel.max_series_fuse_a:g} A would blow at Isc {panel.isc_a:g} A",
        )


def _attempts(panel: PanelSpec) -> Iterator[SingleDiode]:
    """Yield the parameter sets pvlib's fitter finds from several starting points."""
    from pvlib.ivtools.sdm import fit_desoto  # seconds to load

    assert panel.beta_voc_fraction_per_c is not None
    alpha = panel.alpha_isc_fraction_per_c * panel.isc_a
    beta = -abs(panel.beta_voc_fraction_per_c) * panel.voc_v
    for start in _starts(panel):
        for method in ("hybr", "lm"):
            try:
                found, _ = fit_desoto(
                    v_mp=panel.vmp_v,
                    i_mp=panel.imp_a,
                    v_oc=panel.voc_v,
                    i_sc=panel.isc_a,
                    alpha_sc=alpha,
                    beta_voc=beta,
                    cells_in_series=panel.cells_in_series,
                    init_guess=start,
                    root_kwargs={"method": method},
                )
            except (RuntimeError, ValueError, ZeroDivisionError, OverflowError):
                continue
            diode = SingleDiode(
                alpha_sc_a_per_c=alpha,
                a_ref_v=float(found["a_ref"]),
                i_l_ref_a=float(found["I_L_ref"]),
                i_o_ref_a=float(found["I_o_ref"]),
                r_s_ohm=float(found["R_s"]),
                r_sh_ref_ohm=min(float(found["R_sh_ref"]), 1e6),
            )
            if _is_physical(diode):
                yield diode


def _starts(panel: PanelSpec) -> Iterator[dict[str, float]]:
    """Yield starting points for the fitter: a few ideality factors with matching saturation current."""
    for ideality in (1.1, 1.0, 1.2, 0.95, 1.3):
        a = ideality * (panel.cells_in_series or 1) * THERMAL_V
        i_o = panel.isc_a * math.exp(-panel.voc_v / a)
        lost_v = a * math.log1p((panel.isc_a - panel.imp_a) / i_o) - panel.vmp_v
        yield {
            "a_0": a,
            "Io_0": i_o,
            "Rs_0": max(lost_v / panel.imp_a, 0.005),
            "Rsh_0": 10.0 * panel.voc_v / panel.isc_a,
        }


def _is_physical(diode: SingleDiode) -> bool:
    values = (diode.a_ref_v, diode.i_l_ref_a, diode.i_o_ref_a, diode.r_sh_ref_ohm)
    return all(math.isfinite(value) and value > 0 for value in values) and diode.r_s_ohm >= 0


def _misses(panel: PanelSpec, diode: SingleDiode) -> tuple[tuple[str, float], ...]:
    """Return how far the model is off each printed value [-]; coefficients against their own size."""
    at_stc = diode_point(diode, poa_global_w_m2=1000.0, temp_cell_c=25.0)
    warm = diode_point(diode, poa_global_w_m2=1000.0, temp_cell_c=50.0)
    printed = (
        ("isc_a", at_stc.isc_a, panel.isc_a),
        ("voc_v", at_stc.voc_v, panel.voc_v),
        ("imp_a", at_stc.imp_a, panel.imp_a),
        ("vmp_v", at_stc.vmp_v, panel.vmp_v),
        ("pmp_w", at_stc.pmp_w, panel.vmp_v * panel.imp_a),
    )
    found = [(name, (modelled - sheet) / sheet) for name, modelled, sheet in printed]
    if panel.gamma_pmp_fraction_per_c:
        found.append(("gamma_pmp_fraction_per_c", _gamma_miss(panel.gamma_pmp_fraction_per_c, at_stc, warm)))
    return tuple(found)


def _gamma_miss(gamma: float, at_stc: DiodePoint, warm: DiodePoint) -> float:
    """Return how far the model's power at 50 °C is off the sheet's [-]."""
    sheet = 1.0 - abs(gamma) * 25.0
    return warm.pmp_w / at_stc.pmp_w / sheet - 1.0


def _module(row: dict[str, str]) -> ModuleData:
    isc_a, voc_v = float(row["I_sc_ref"]), float(row["V_oc_ref"])
    return ModuleData(
        name=row["Name"],
        technology=row["Technology"],
        pmp_w=float(row["STC"]),
        vmp_v=float(row["V_mp_ref"]),
        imp_a=float(row["I_mp_ref"]),
        voc_v=voc_v,
        isc_a=isc_a,
        alpha_isc_fraction_per_c=float(row["alpha_sc"]) / isc_a,
        beta_voc_fraction_per_c=float(row["beta_oc"]) / voc_v,
        gamma_pmp_fraction_per_c=float(row["gamma_r"]) / 100.0,
        cells_in_series=int(float(row["N_s"])),
        area_m2=float(row["A_c"]),
        length_m=float(row["Length"]) if row["Length"] else None,
        width_m=float(row["Width"]) if row["Width"] else None,
        noct_c=float(row["T_NOCT"]),
        single_diode=SingleDiode(
            alpha_sc_a_per_c=float(row["alpha_sc"]),
            a_ref_v=float(row["a_ref"]),
            i_l_ref_a=float(row["I_L_ref"]),
            i_o_ref_a=float(row["I_o_ref"]),
            r_s_ohm=float(row["R_s"]),
            r_sh_ref_ohm=float(row["R_sh_ref"]),
            adjust_percent=float(row["Adjust"]),
        ),
    )


def _rows_with(words: list[str]) -> Iterator[dict[str, str]]:
    """Yield the rows whose name holds all the words, in the order of the list."""
    names, lines = _lines()
    for line in lines:
        low = line.lower()
        if all(word in low for word in words):
            row = dict(zip(names, next(csv.reader([line])), strict=True))
            if all(word in row["Name"].lower() for word in words):
                yield row


def _rows() -> tuple[dict[str, str], ...]:
    """Return all rows of the list."""
    return tuple(_rows_with([]))


@lru_cache(maxsize=1)
def _lines() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return names of columns and lines of the list, read without loading pvlib itself.

    Two lines of units follow the names. Lines are kept as text: rows taken apart would fill 50 MB.
    """
    found = importlib.util.find_spec("pvlib")
    assert found is not None
    assert found.origin is not None
    text = (Path(found.origin).parent / "data" / CEC_FILE).read_text(encoding="utf-8")
    first, _, _, *lines = text.splitlines()
    return tuple(first.split(",")), tuple(line for line in lines if line)
