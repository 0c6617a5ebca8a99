"""Cold string voltage against NFPA 70 (2017), 690.7(A) and table 690.7(A).

The two modules are rows 1564 and 1503 (from zero) of the open CEC module list that ships with pvlib. Case
values were worked by hand from the printed factors; tolerances as given per case. Between two bands of the
table the colder one is taken, which is our reading.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import sizing
from tests.designs import P200
from tests.published.reading import number, printed

METHOD = {"coefficient": "module coefficient", "table": "code table"}


@pytest.mark.parametrize("row", printed("voc_correction_factors"), ids=lambda row: f"{row['coldest_c']} °C")
def test_factor_is_the_printed_one_at_both_ends_of_its_band(row):
    for end in ("warmest_c", "coldest_c"):
        assert sizing.code_table_factor(float(row[end])) == float(row["factor"])


def test_table_starts_at_25_and_ends_at_minus_40():
    assert sizing.code_table_factor(25.0) == 1.0
    assert sizing.code_table_factor(-40.1) is None


@pytest.mark.parametrize("row", printed("string_voltage_cases"), ids=lambda row: row["case"])
def test_string_voltage_comes_out(row):
    panel = replace(
        P200,
        voc_v=float(row["voc_v"]),
        beta_voc_fraction_per_c=number(row["beta_fraction_per_c"]),
    )
    volts = sizing.cold_voltages(panel, float(row["tmin_c"]))[0]
    tolerance_v = float(row["tolerance_v"])
    assert volts.method == METHOD[row["method"]]
    assert volts.voc_v == pytest.approx(float(row["each_v"]), abs=tolerance_v)
    if row["string_v"]:
        assert int(row["ns"]) * volts.voc_v == pytest.approx(float(row["string_v"]), abs=3 * tolerance_v)
    if row["max_ns"]:
        assert math.floor(float(row["limit_v"]) / volts.voc_v) == int(row["max_ns"])


def test_below_the_table_a_panel_without_coefficient_is_unknown():
    bare = replace(P200, beta_voc_fraction_per_c=None)
    assert sizing.cold_voltages(bare, -45.0) == ()
