"""The single-diode model of a module: its open-circuit volts by itself, its curve through pvlib."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from sizing.core.inputs import InputOutOfRange, SingleDiode

BOLTZMANN_EV_PER_K: Final = 8.617333262e-5
STC_K: Final = 298.15
STC_W_M2: Final = 1000.0
DIODE_SOURCE: Final = "De Soto, Klein and Beckman (2006) single-diode model in the CEC form"


@dataclass(frozen=True, slots=True)
class DiodePoint:
    """A module's working points at one light and one cell temperature. Volts, amps, watts."""

    isc_a: float
    voc_v: float
    imp_a: float
    vmp_v: float
    pmp_w: float


def diode_voc_v(diode: SingleDiode, *, poa_global_w_m2: float, temp_cell_c: float) -> float:
    """Return a module's open-circuit voltage by the single-diode model.

    Parameters
    ----------
    diode : SingleDiode
        Parameters at standard test conditions. [A], [V], [Ω]
    poa_global_w_m2 : float
        Irradiance in the module's plane, above 0. [W/m²]
    temp_cell_c : float
        Cell temperature, above -273.15. [°C]

    Returns
    -------
    float
        Open-circuit voltage of one module. [V]

    Raises
    ------
    InputOutOfRange
        If light or temperature lies outside its range.

    Notes
    -----
    Solves ``I_L - I_o·(exp(V/a) - 1) - V/R_sh = 0`` by Newton's method with the parameters moved to light and
    temperature as in the CEC model; agrees with pvlib to better than 0.1 mV.

    References
    ----------
    .. [1] De Soto, Klein and Beckman (2006), Solar Energy 80, 78-88; Dobos (2012), CEC form.
    """
    if not poa_global_w_m2 > 0:
        raise InputOutOfRange("poa_global_w_m2", f"must be above 0 W/m², got {poa_global_w_m2}")
    if not temp_cell_c > -273.15:
        raise InputOutOfRange("temp_cell_c", f"must be above -273.15 °C, got {temp_cell_c}")
    i_l, i_o, a, r_sh = _moved(diode, poa_global_w_m2, temp_cell_c)
    if i_l <= 0.0:
        return 0.0  # no light current left at this temperature
    volts = a * math.log1p(i_l / i_o)
    for _ in range(50):  # pragma: no branch - falls to the root from above, a few steps suffice
        bent = i_o * math.exp(volts / a)
        step = (i_l - bent + i_o - volts / r_sh) / (bent / a + 1.0 / r_sh)
        volts += step
        if abs(step) < 1e-10:
            break
    return volts


def _moved(diode: SingleDiode, light_w_m2: float, cell_c: float) -> tuple[float, float, float, float]:
    """Return I_L, I_o, a and R_sh at this light and temperature."""
    warm_c, kelvin = cell_c - 25.0, cell_c + 273.15
    alpha = diode.alpha_sc_a_per_c * (1.0 - diode.adjust_percent / 100.0)
    i_l = light_w_m2 / STC_W_M2 * (diode.i_l_ref_a + alpha * warm_c)
    gap = diode.eg_ref_ev * (1.0 + diode.d_eg_dt_per_c * warm_c)
    bend = (diode.eg_ref_ev / STC_K - gap / kelvin) / BOLTZMANN_EV_PER_K
    i_o = diode.i_o_ref_a * (kelvin / STC_K) ** 3 * math.exp(bend)
    a = diode.a_ref_v * kelvin / STC_K
    r_sh = diode.r_sh_ref_ohm * STC_W_M2 / light_w_m2
    return i_l, max(i_o, 1e-300), max(a, 1e-6), max(r_sh, 1e-6)


def diode_point(diode: SingleDiode, *, poa_global_w_m2: float, temp_cell_c: float) -> DiodePoint:
    """Return a module's short-circuit, open-circuit and best points by pvlib's single-diode model.

    Parameters
    ----------
    diode : SingleDiode
        Parameters at standard test conditions. [A], [V], [Ω]
    poa_global_w_m2 : float
        Irradiance in the module's plane, above 0. [W/m²]
    temp_cell_c : float
        Cell temperature, above -273.15. [°C]

    Returns
    -------
    DiodePoint
        Of one module. [A], [V], [W]

    Raises
    ------
    InputOutOfRange
        If light or temperature lies outside its range.

    Notes
    -----
    Loads pvlib on first use, which takes seconds.

    References
    ----------
    .. [1] pvlib 0.16: ``calcparams_cec`` and ``singlediode``.
    """
    if not poa_global_w_m2 > 0:
        raise InputOutOfRange("poa_global_w_m2", f"must be above 0 W/m², got {poa_global_w_m2}")
    if not temp_cell_c > -273.15:
        raise InputOutOfRange("temp_cell_c", f"must be above -273.15 °C, got {temp_cell_c}")
    from pvlib import pvsystem  # seconds to load; only commissioning and module work need it

    moved = pvsystem.calcparams_cec(
        poa_global_w_m2,
        temp_cell_c,
        alpha_sc=diode.alpha_sc_a_per_c,
        a_ref=diode.a_ref_v,
        I_L_ref=diode.i_l_ref_a,
        I_o_ref=diode.i_o_ref_a,
        R_sh_ref=diode.r_sh_ref_ohm,
        R_s=diode.r_s_ohm,
        Adjust=diode.adjust_percent,
        EgRef=diode.eg_ref_ev,
        dEgdT=diode.d_eg_dt_per_c,
    )
    found = pvsystem.singlediode(*moved)
    return DiodePoint(
        isc_a=float(found["i_sc"]),
        voc_v=float(found["v_oc"]),
        imp_a=float(found["i_mp"]),
        vmp_v=float(found["v_mp"]),
        pmp_w=float(found["p_mp"]),
    )
