"""Metric ampacities against BS 7671 table 4E1A, two loaded 90 °C cables, 30 °C air.

The fixture was typed from a cable distributor's reprint of the table; the last two rows' method F and 120 mm²
from a cable maker's.
"""

from __future__ import annotations

import pytest

from sizing.cable.ampacity import Laying, cable_ampacity
from sizing.cable.conductors import conductor
from sizing.core.checks import Provenance
from sizing.core.inputs import RuleSet
from tests.published.reading import printed


@pytest.mark.parametrize("row", printed("bs_7671_table_4e1a"), ids=lambda row: row["area_mm2"])
@pytest.mark.parametrize(("in_raceway", "column"), [(True, "method_b_a"), (False, "method_c_a")])
def test_every_printed_ampacity_is_the_one_used(row, in_raceway, column):
    cable = conductor(row["area_mm2"], "metric")
    found = cable_ampacity(RuleSet.METRIC, cable, Laying(in_raceway=in_raceway))
    assert found.usable_a == float(row[column])
    assert found.provenance is Provenance.PRINTED


@pytest.mark.parametrize(("circuits", "factor"), [(2, 0.80), (3, 0.70), (4, 0.65), (5, 0.60), (8, 0.52)])
def test_bunched_circuits_by_table_4c1(circuits, factor):
    """A guide to BS 7671:2008 prints table 4C1: 1.00 0.80 0.70 0.65 0.60 0.57 0.54 0.52."""
    laid = Laying(bundle_count=2 * circuits)
    found = cable_ampacity(RuleSet.METRIC, conductor("16", "metric"), laid)
    assert found.usable_a == pytest.approx(100 * factor)
    assert found.provenance is Provenance.PRINTED
