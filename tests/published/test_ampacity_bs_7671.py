"""Metric ampacities against BS 7671 table 4E1A, two loaded 90 °C cables, 30 °C air.

The fixture was typed from a cable distributor's reprint of the table. 120 mm² is not in it.
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


def test_the_row_that_was_not_seen_says_so():
    found = cable_ampacity(RuleSet.METRIC, conductor("120", "metric"), Laying())
    assert found.provenance is Provenance.MEMORY
