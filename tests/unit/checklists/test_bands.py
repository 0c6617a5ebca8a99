"""Limits that catch a slip and let right readings of every usual bank through.

Volts of whole banks, from makers' tables as known from memory: a full charge of lithium is 3.55 V a cell
(14.2, 28.4, 56.8 V), of lead 2.4 to 2.45 V a cell (14.4 to 14.7, 28.8, 57.6 V); at rest 3.3 and 2.12 V.
"""

from __future__ import annotations

import pytest

from checklists.plan.bands import CUTOFF_CELL_V, REST_CELL_V, USE_CELL_V, _volts


@pytest.mark.parametrize(
    ("chemistry", "nominal_v", "rest_v", "full_v", "cutoff_v"),
    [
        ("lfp", 12, 13.2, 14.2, 11.0), ("lfp", 12.8, 13.2, 14.4, 11.5), ("lfp", 24, 26.4, 28.4, 23.0),
        ("lfp", 25.6, 26.4, 28.4, 23.0), ("lfp", 36, 39.6, 42.6, 34.0), ("lfp", 48, 52.8, 56.8, 49.0),
        ("lfp", 51.2, 52.8, 57.6, 46.0), ("lfp", 3.2, 3.3, 3.55, 2.8), ("agm", 12, 12.7, 14.7, 11.0),
        ("flooded", 6, 6.35, 7.35, 5.4), ("flooded", 8, 8.45, 9.8, 7.2), ("gel", 24, 25.4, 28.8, 22.0),
        ("agm", 48, 50.8, 57.6, 44.0), ("flooded", 2, 2.12, 2.45, 1.8),
    ],
)  # fmt: skip
def test_right_volts_are_in_and_a_slip_is_out(chemistry, nominal_v, rest_v, full_v, cutoff_v):
    for cells, right in ((REST_CELL_V, rest_v), (USE_CELL_V, full_v), (CUTOFF_CELL_V, cutoff_v)):
        low, high = _volts(chemistry, nominal_v, cells)
        assert low <= right <= high
        assert not low <= right / 2 <= high
        assert not low <= right * 2 <= high
        assert not low <= 1.0 <= high
        assert not low <= 0.0 <= high
