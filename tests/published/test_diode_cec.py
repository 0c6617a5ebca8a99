"""Module voltages and currents against pvlib's CEC single-diode model and the open CEC module list.

Printed points: two rows of the list bundled with pvlib 0.16 (``sam-library-cec-modules-2019-03-05.csv``),
checked by an independent solver of the De Soto equations to better than 1e-6; tolerance 0.001 (0.01 W).
The 200 modules are drawn from the same list by a fixed seed.
"""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from pvlib import pvsystem
from scipy.optimize import elementwise

import sizing
from sizing.array import modules
from sizing.array.module_voltage import vmp_at_v, voc_at_v
from tests.designs import P100, P200, P370, P400
from tests.published.reading import printed

IRRADIANCES = (100.0, 200.0, 400.0, 800.0, 1000.0, 1200.0)
CELLS_C = (-40.0, -20.0, 0.0, 25.0, 50.0, 70.0, 85.0)


def listed(index: int) -> sizing.ModuleData:
    """Return a module of the list by its place, from zero."""
    return modules._module(modules._rows()[index])


def drawn(count: int) -> list[sizing.ModuleData]:
    """Return modules drawn from the whole list."""
    rows = modules._rows()
    return [modules._module(rows[i]) for i in random.Random(690).sample(range(len(rows)), count)]


@pytest.mark.parametrize(
    "row", printed("module_points"), ids=lambda row: f"{row['cec_index']}-{row['poa_w_m2']}-{row['cell_c']}"
)
def test_single_diode_points(row):
    point = sizing.diode_point(
        listed(int(row["cec_index"])).single_diode,
        poa_global_w_m2=float(row["poa_w_m2"]),
        temp_cell_c=float(row["cell_c"]),
    )
    for name in ("isc_a", "voc_v", "imp_a", "vmp_v"):
        assert getattr(point, name) == pytest.approx(float(row[name]), abs=0.001), name
    assert point.pmp_w == pytest.approx(float(row["pmp_w"]), abs=0.01)


def test_linear_coefficient_is_the_least_cautious_of_the_three():
    """-20 °C, 60 cells: the model is 1.84 % and the table 4.13 % above the straight line."""
    panel = sizing.panel_from_module(listed(1564), mass_kg=18.0, length_m=1.65, width_m=0.99)
    volts = {found.method: found.voc_v for found in sizing.cold_voltages(panel, -20.0)}
    line = volts["module coefficient"]
    assert line == pytest.approx(45.4413, abs=0.001)
    assert volts["single-diode model"] / line - 1 == pytest.approx(0.0184, abs=0.0002)
    assert volts["code table"] / line - 1 == pytest.approx(0.0413, abs=0.0002)


def test_search_reads_the_list_as_pvlib_does():
    frame = pvsystem.retrieve_sam("CECMod")
    assert len(modules._rows()) == frame.shape[1]
    for index in (0, 1503, 1564, 21_534):
        ours, theirs = listed(index), frame.iloc[:, index]
        assert ours.voc_v == pytest.approx(float(theirs["V_oc_ref"]))
        assert ours.isc_a == pytest.approx(float(theirs["I_sc_ref"]))
        assert ours.single_diode.r_sh_ref_ohm == pytest.approx(float(theirs["R_sh_ref"]))
        assert ours.beta_voc_fraction_per_c * ours.voc_v == pytest.approx(float(theirs["beta_oc"]))


def test_open_circuit_volts_of_200_modules_agree_with_pvlib():
    """Our Newton solution against pvlib's Lambert-W, -40 to 85 °C and 100 to 1200 W/m²: within 0.1 mV."""
    light, cell = (grid.ravel() for grid in np.meshgrid(IRRADIANCES, CELLS_C))
    for module in drawn(200):
        diode, moved = module.single_diode, _moved_parameters(module, light, cell)
        theirs = np.asarray(pvsystem.singlediode(*moved)["v_oc"])
        ours = [
            sizing.diode_voc_v(diode, poa_global_w_m2=g, temp_cell_c=t)
            for g, t in zip(light, cell, strict=True)
        ]
        assert np.max(np.abs(theirs - ours)) < 1e-4, module.name


def test_hot_and_cold_closed_forms_against_the_model():
    """How far the sheet's straight lines are from the model over 200 modules; the docs report these figures.

    Against the model the coefficient reads at -40 °C 5.1 % low to 2.9 % high (median 1.4 % low: not the safe
    side), at 70 °C Voc 2.4 % low to 6.2 % high (median 1.8 % high) and Vmp, by the power coefficient, 5.8 %
    low to 7.1 % high (median 0.4 % high). The bounds are a little wider: they catch a change of formula.
    """
    cold, hot_voc, hot_vmp = [], [], []
    for module in drawn(200):
        panel = replace(
            P200,
            voc_v=module.voc_v,
            vmp_v=module.vmp_v,
            beta_voc_fraction_per_c=module.beta_voc_fraction_per_c,
            gamma_pmp_fraction_per_c=module.gamma_pmp_fraction_per_c,
            single_diode=module.single_diode,
        )
        volts = {found.method: found.voc_v for found in sizing.cold_voltages(panel, -40.0)[:3]}
        hot = sizing.diode_point(module.single_diode, poa_global_w_m2=1000.0, temp_cell_c=70.0)
        cold.append(volts["module coefficient"] / volts["single-diode model"] - 1)
        hot_voc.append(voc_at_v(panel, 70.0) / hot.voc_v - 1)
        hot_vmp.append(vmp_at_v(panel, 70.0) / hot.vmp_v - 1)
    for found, low, median, high in (
        (cold, -0.055, -0.014, 0.035),
        (hot_voc, -0.03, 0.018, 0.07),
        (hot_vmp, -0.065, 0.004, 0.08),
    ):
        assert low < min(found)
        assert max(found) < high
        assert float(np.median(found)) == pytest.approx(median, abs=0.003)


@pytest.mark.parametrize("panel", [P100, P200, P370, P400], ids=lambda panel: panel.name)
def test_fitted_parameters_give_the_sheet_back(panel):
    """De Soto's five equations are met at 25 °C, so the misses are small; the fit says how small."""
    fit = sizing.fit_single_diode(panel)
    assert fit.worst_error < 0.015
    point = sizing.diode_point(fit.single_diode, poa_global_w_m2=1000.0, temp_cell_c=25.0)
    assert point.voc_v == pytest.approx(panel.voc_v, rel=0.005)
    assert point.isc_a == pytest.approx(panel.isc_a, rel=0.005)
    assert point.pmp_w == pytest.approx(panel.vmp_v * panel.imp_a, rel=0.01)


def test_fitting_a_listed_module_comes_near_its_listed_parameters():
    """The list's own parameters come from another fitter, so power within 2 % at 800 W/m², 45 °C is near."""
    module = listed(1564)
    panel = sizing.panel_from_module(module, mass_kg=18.0, length_m=1.65, width_m=0.99)
    fit = sizing.fit_single_diode(panel)
    ours = sizing.diode_point(fit.single_diode, poa_global_w_m2=800.0, temp_cell_c=45.0)
    theirs = sizing.diode_point(module.single_diode, poa_global_w_m2=800.0, temp_cell_c=45.0)
    assert ours.pmp_w == pytest.approx(theirs.pmp_w, rel=0.02)


def test_short_circuit_and_best_point_of_200_modules_agree_with_scipy():
    """pvlib's Lambert-W and golden search against SciPy's bracketing root of the model's own equations.

    With the diode voltage x as parameter, I = I_L - I_o·(exp(x/a) - 1) - x/R_sh and V = x - I·R_s; Isc is
    where V = 0 and the best point where d(I·V)/dx = 0. 200 modules, -40 to 85 °C, 100 to 1200 W/m²: within
    1e-5 of the value (best voltage 2e-3, as the top is flat).
    """
    light, cell = (grid.ravel() for grid in np.meshgrid(IRRADIANCES, CELLS_C))
    columns = [_moved_parameters(module, light, cell) for module in drawn(200)]
    parameters = tuple(np.concatenate(parts) for parts in zip(*columns, strict=True))
    i_l, i_o, _, _, a = parameters
    ends = (np.zeros_like(a), a * np.log1p(i_l / i_o))
    at_zero = elementwise.find_root(lambda x, *given: _curve(x, *given)[1], ends, args=parameters).x
    short, _ = _curve(at_zero, *parameters)
    best_a, best_v = _curve(elementwise.find_root(_slope, ends, args=parameters).x, *parameters)
    theirs = pvsystem.singlediode(*parameters)
    assert np.allclose(np.asarray(theirs["i_sc"]), short, rtol=1e-5)
    assert np.allclose(np.asarray(theirs["p_mp"]), best_a * best_v, rtol=1e-5)
    assert np.allclose(np.asarray(theirs["v_mp"]), best_v, rtol=2e-3)


def _curve(x, i_l, i_o, r_s, r_sh, a):
    """Return current and terminal volts at a diode voltage."""
    current = i_l - i_o * np.expm1(x / a) - x / r_sh
    return current, x - current * r_s


def _slope(x, i_l, i_o, r_s, r_sh, a):
    """Return d(I·V)/dx."""
    current, volts = _curve(x, i_l, i_o, r_s, r_sh, a)
    falling = -i_o / a * np.exp(x / a) - 1.0 / r_sh
    return falling * volts + current * (1.0 - falling * r_s)


def _moved_parameters(module, light, cell):
    """Return I_L, I_o, R_s, R_sh and a of a module at every light and temperature, by pvlib."""
    diode = module.single_diode
    moved = pvsystem.calcparams_cec(
        light,
        cell,
        alpha_sc=diode.alpha_sc_a_per_c,
        a_ref=diode.a_ref_v,
        I_L_ref=diode.i_l_ref_a,
        I_o_ref=diode.i_o_ref_a,
        R_sh_ref=diode.r_sh_ref_ohm,
        R_s=diode.r_s_ohm,
        Adjust=diode.adjust_percent,
    )
    return [np.broadcast_to(np.asarray(value, dtype=float), light.shape) for value in moved]
