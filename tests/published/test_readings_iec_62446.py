"""Readings on the roof and insulation against IEC 62446-1: strings within 5 %, test voltage by band.

Module: row 1564 (from zero) of the open CEC list. Setting a reading against a computed value is our
extension of the standard's string comparison; 0.5 MΩ at 250 V below 120 V: EN 62446-1:2019, as
a supplier of test instruments prints it.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import Quantity, Verdict
from sizing.array import modules
from sizing.array.diode import diode_point
from tests.designs import P200
from tests.published.reading import printed

MODULE = replace(
    P200,
    voc_v=40.10,
    isc_a=10.04,
    vmp_v=32.6,
    imp_a=9.51,
    pmp_w=310.0,
    cells_in_series=60,
    beta_voc_fraction_per_c=-0.118696 / 40.10,
    alpha_isc_fraction_per_c=0.008936 / 10.04,
)


def expected(quantity: str) -> sizing.ExpectedReadings:
    """Return the expectation of the two published cases: volts at full sun, amps at 820 W/m², 52 °C cell."""
    light = 1000.0 if quantity == "voc" else 820.0
    return sizing.expected_readings(MODULE, ns=3, poa_global_w_m2=light, temp_cell_c=52.0)


@pytest.mark.parametrize("row", printed("string_readings"), ids=lambda row: row["case"])
def test_readings_are_judged_as_published(row):
    found = expected(row["quantity"])
    value = found.voc_v if row["quantity"] == "voc" else found.isc_a
    assert value == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    check = sizing.judge_reading(
        Quantity(row["quantity"]), float(row["measured"]), found, poa_global_w_m2=820.0, string_id="1"
    )
    assert check.margin == pytest.approx(float(row["deviation"]), abs=0.0005)
    assert (check.verdict is Verdict.PASS) is (row["is_pass"] == "yes")


def test_two_modules_instead_of_three_would_read_73_8():
    found = expected("voc")
    assert 2 * found.panel_voc_v == pytest.approx(73.79, abs=0.01)
    check = sizing.judge_reading(Quantity.VOC, 73.6, found, poa_global_w_m2=900.0, string_id="1")
    assert "1 panel: missing or by-passed" in check.sentence


@pytest.mark.parametrize("row", printed("insulation_bands"), ids=lambda row: f"{row['voc_stc_v']} V")
def test_insulation_test_by_band(row):
    found = sizing.insulation_test(float(row["voc_stc_v"]))
    assert found.test_voltage_v == float(row["test_voltage_v"])
    assert found.min_resistance_mohm == float(row["min_resistance_mohm"])


def test_two_and_five_modules_in_series():
    """1.25 × 80.2 V = 100.25 V: 250 V test, 0.5 MΩ; 1.25 × 200.5 V = 250.6 V: 500 V test, 1 MΩ."""
    assert sizing.insulation_test(2 * 40.10).band_v == pytest.approx(100.25)
    assert sizing.insulation_test(5 * 40.10).band_v == pytest.approx(250.62, abs=0.01)


@pytest.mark.parametrize(("light", "cell"), [(400.0, 20.0), (640.0, 43.0), (820.0, 52.0), (1000.0, 60.0)])
def test_handbook_formula_and_single_diode_model_part_by_little(light, cell):
    """Against pvlib's single-diode model of the same module: volts within 2.5 %, amps within 1 %."""
    module = modules._module(modules._rows()[1564])
    panel = replace(MODULE, single_diode=module.single_diode)
    handbook = sizing.expected_readings(panel, ns=2, poa_global_w_m2=light, temp_cell_c=cell)
    by_diode = sizing.expected_by_diode(panel, ns=2, poa_global_w_m2=light, temp_cell_c=cell)
    point = diode_point(module.single_diode, poa_global_w_m2=light, temp_cell_c=cell)
    assert by_diode.voc_v == pytest.approx(2 * point.voc_v)
    assert handbook.voc_v == pytest.approx(by_diode.voc_v, rel=0.025)
    assert handbook.isc_a == pytest.approx(by_diode.isc_a, rel=0.01)
