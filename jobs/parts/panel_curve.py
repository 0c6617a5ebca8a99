"""The single-diode model of a catalog panel: taken from the open list, or fitted to its sheet.

Stored with the sheet's values it rests on: when one of them changes, the model no longer counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

import sizing
from jobs.models import PanelSheet
from jobs.parts.power_inputs import panel_spec, single_diode
from jobs.shop.refusals import Refusal

#: Values of the sheet that the model rests on.
RESTS_ON: Final = (
    "pmp_w", "vmp_v", "imp_a", "voc_v", "isc_a", "alpha_isc_percent_per_c", "beta_voc_percent_per_c",
    "gamma_pmp_percent_per_c", "cells_in_series",
)  # fmt: skip
#: How the values of a sheet are called on the page.
NAMES: Final[Mapping[str, str]] = {
    "isc_a": "Isc", "voc_v": "Voc", "imp_a": "Imp", "vmp_v": "Vmp", "pmp_w": "Pmp",
    "gamma_pmp_fraction_per_c": "Pmp at 50 °C",
}  # fmt: skip


class NoCurve(Refusal):
    """No single-diode model can be had from this sheet; says which values to look at."""


def sheet_start(module: sizing.ModuleData) -> dict[str, Any]:
    """Return the first values of a data sheet form for a row of the open list."""
    return {
        "pmp_w": module.pmp_w,
        "vmp_v": module.vmp_v,
        "imp_a": module.imp_a,
        "voc_v": module.voc_v,
        "isc_a": module.isc_a,
        "length_m": module.length_m,
        "width_m": module.width_m,
        "alpha_isc_percent_per_c": round(100 * module.alpha_isc_fraction_per_c, 5),
        "beta_voc_percent_per_c": round(100 * module.beta_voc_fraction_per_c, 5),
        "gamma_pmp_percent_per_c": round(100 * module.gamma_pmp_fraction_per_c, 5),
        "cells_in_series": module.cells_in_series,
    }


def curve_of_module(sheet: PanelSheet, module: sizing.ModuleData) -> dict[str, Any] | None:
    """Return the list's own model for a sheet; None where the sheet was made to say something else."""
    listed = sheet_start(module)
    for name in RESTS_ON:
        value = getattr(sheet, name)
        is_blank_count = name == "cells_in_series" and value is None  # the model is that of the whole module
        if not is_blank_count and (value is None or not math.isclose(value, listed[name], rel_tol=1e-6)):
            return None
    return _stored(sheet, module.single_diode, f"{module.name}: {module.source}", ())


def curve_fitted(sheet: PanelSheet) -> dict[str, Any]:
    """Return a model fitted to a sheet, with how far it misses each printed value; raise NoCurve."""
    try:
        fit = sizing.fit_single_diode(panel_spec(sheet.part))
    except sizing.InputOutOfRange as problem:
        raise NoCurve(f"The sheet does not allow a fit: {_said(problem)}") from problem
    except sizing.FitFailed as problem:
        raise NoCurve(
            "No single-diode curve passes through this sheet. Look at Voc, Vmp, Isc, Imp and the voltage"
            " coefficient."
        ) from problem
    return _stored(sheet, fit.single_diode, f"fitted to this sheet ({fit.method})", fit.errors)


def _said(problem: sizing.InputOutOfRange) -> str:
    """Return what is wrong in the words of the form."""
    words = {
        "panel.beta_voc_fraction_per_c": "the Voc temperature coefficient is blank.",
        "panel.cells_in_series": "the count of cells in series is blank.",
    }
    is_blank = isinstance(problem, sizing.InputNeeded)
    return words.get(problem.path, f"{problem.message}.") if is_blank else problem.message


def _stored(
    sheet: PanelSheet, diode: sizing.SingleDiode, source: str, misses: tuple[tuple[str, float], ...]
) -> dict[str, Any]:
    return {
        "parameters": asdict(diode),
        "rests_on": {name: getattr(sheet, name) for name in RESTS_ON},
        "source": source,
        "misses": [[name, miss] for name, miss in misses],
    }


def curve_stands(sheet: PanelSheet) -> bool:
    """Return whether the stored model still belongs to what the sheet says."""
    return single_diode(sheet) is not None


def curve_facts(sheet: PanelSheet) -> dict[str, Any]:
    """Return what the page of a panel says about its model."""
    curve = sheet.curve if curve_stands(sheet) else None
    misses = [(NAMES[name], miss) for name, miss in curve["misses"]] if curve else []
    return {
        "curve": curve,
        "is_stale": bool(sheet.curve) and curve is None,
        "facts": _printed(curve["parameters"]) if curve else [],
        "misses": misses,
        "worst_miss": max((abs(miss) for _, miss in misses), default=0.0),
    }


def _printed(parameters: Mapping[str, float]) -> list[tuple[str, str]]:
    return [
        ("Light current", f"{parameters['i_l_ref_a']:.4g} A"),
        ("Saturation current", f"{parameters['i_o_ref_a']:.3g} A"),
        ("Modified ideality a", f"{parameters['a_ref_v']:.4g} V"),
        ("Series resistance", f"{parameters['r_s_ohm']:.4g} Ω"),
        ("Shunt resistance", f"{parameters['r_sh_ref_ohm']:.4g} Ω"),
    ]
