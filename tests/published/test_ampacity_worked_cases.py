"""Whole ampacity sums worked by hand from printed tables; each row of the fixture names its table."""

from __future__ import annotations

import pytest

from sizing.cable.ampacity import Laying, cable_ampacity
from sizing.cable.conductors import conductor
from sizing.cable.overcurrent import device_limits_compared
from sizing.core.inputs import RuleSet
from tests.published.reading import number, printed

INCH_M = 0.0254


@pytest.mark.parametrize("row", printed("ampacity_cases"), ids=lambda row: row["case"])
def test_the_worked_sum_comes_out(row):
    clearance_in = number(row["roof_clearance_in"])
    laying = Laying(
        bundle_count=int(row["bundle_count"]),
        ambient_c=float(row["ambient_c"]),
        in_engine_space=row["in_engine_space"] == "yes",
        on_roof_in_sun=clearance_in is not None,
        roof_clearance_m=None if clearance_in is None else clearance_in * INCH_M,
        in_raceway=row["in_raceway"] == "yes",
        is_exposed_pv=row["is_pv"] == "yes" and row["in_raceway"] == "no",
        terminal_c=int(row["terminal_c"]),
    )
    found = cable_ampacity(RuleSet(row["rule_set"]), conductor(row["size"]), laying)
    tolerance = float(row["tolerance_a"])
    assert found.corrected_a == pytest.approx(float(row["corrected_a"]), abs=tolerance)
    if row["terminal_a"]:
        assert found.terminal_a == float(row["terminal_a"])
    if row["max_ocpd_a"]:
        assert found.max_ocpd_a == float(row["max_ocpd_a"])


def test_one_wire_has_three_fuse_limits():
    """14 AWG: 33 CFR 183.455(c)(1) 52.5 A, ABYC E-11 base 35 A, NFPA 70 240.4(D), 552.10(E) 15 A."""
    limits = {name: amps for name, amps, _ in device_limits_compared("14")}
    assert limits == {
        "33 CFR below 50 V": 52.5,
        "marine base": 35.0,
        "code": 15.0,
        "park trailer, 24 V or less": 15.0,
    }
