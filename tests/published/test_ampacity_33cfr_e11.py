"""Marine ampacities against 33 CFR 183.425 table 5 and a reprint of its engine-space column.

Fixtures: the table as a public law text prints it (30 °C air), and a marine supplier's reprint of the
105 °C row pair, whose inside column is cut to whole amps (so the tolerance below it is 1 A).
"""

from __future__ import annotations

import pytest

from sizing.cable.ampacity import Laying, cable_ampacity
from sizing.cable.conductors import conductor
from sizing.core.inputs import RuleSet
from tests.published.reading import printed

COLUMNS = (60, 75, 80, 90, 105)


@pytest.mark.parametrize("row", printed("cfr_33_183_425_table5"), ids=lambda row: row["size"])
@pytest.mark.parametrize("column", COLUMNS)
def test_every_printed_ampacity_is_the_one_used(row, column):
    found = cable_ampacity(RuleSet.MARINE_105C, conductor(row["size"]), Laying(insulation_c=column))
    assert found.usable_a == float(row[f"c{column}_a"])


@pytest.mark.parametrize("row", printed("marine_105c_engine_space"), ids=lambda row: row["size"])
def test_engine_space_takes_15_percent(row):
    cable = conductor(row["size"])
    outside = cable_ampacity(RuleSet.MARINE_105C, cable, Laying())
    inside = cable_ampacity(RuleSet.MARINE_105C, cable, Laying(in_engine_space=True))
    assert outside.usable_a == float(row["outside_a"])
    assert inside.usable_a == pytest.approx(float(row["inside_a"]), abs=1.0)


@pytest.mark.parametrize("column", COLUMNS)
def test_engine_space_factors_follow_the_ambient_equation(column):
    """Note 1 of table 5, 50 °C air: sqrt((Tc - 50)/(Tc - 30)) to two digits (105 °C: cut, not rounded).

    Only the 105 °C factor was seen in print; the others are from memory and checked by the equation.
    """
    cable = conductor("4")
    outside = cable_ampacity(RuleSet.MARINE_105C, cable, Laying(insulation_c=column)).usable_a
    inside = cable_ampacity(
        RuleSet.MARINE_105C, cable, Laying(insulation_c=column, in_engine_space=True)
    ).usable_a
    assert inside / outside == pytest.approx(((column - 50) / (column - 30)) ** 0.5, abs=0.007)


@pytest.mark.parametrize(
    ("count", "factor"), [(1, 1.0), (2, 1.0), (3, 0.7), (4, 0.6), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4)]
)
def test_bundles_of_the_printed_sizes_take_the_printed_share(count, factor):
    """33 CFR 183.425 table 5 note 2; ABYC E-11 (the 25-and-more factor)."""
    found = cable_ampacity(RuleSet.MARINE_105C, conductor("4/0"), Laying(bundle_count=count))
    assert found.usable_a == pytest.approx(445 * factor)
