"""Groupings of panels into strings: all of them, each once, within limits."""

from __future__ import annotations

import pytest

from sizing.shade.scene.groupings import (
    StringLimits,
    count_groupings,
    groupings,
    shape_words,
    swaps,
    tidy,
)

#: Bell numbers, OEIS A000110: set partitions of 1 to 8 things.
BELL = {1: 1, 2: 2, 3: 5, 4: 15, 5: 52, 6: 203, 7: 877, 8: 4140}


@pytest.mark.parametrize(("n", "bell"), BELL.items())
def test_every_set_partition_is_met_once(n, bell):
    free = StringLimits(equal_lengths=False)
    found = [tidy(g) for g in groupings(n, free)]
    assert len(found) == len(set(found)) == bell == count_groupings(n, free)
    assert all(sorted(p for string in g for p in string) == list(range(n)) for g in found)


def test_eight_panels_in_four_pairs_make_105_groupings():
    """8!/(2!^4 4!) = 105."""
    pairs = StringLimits(series_min=2, series_max=2)
    assert len(list(groupings(8, pairs))) == 105 == count_groupings(8, pairs)


def test_limits_are_kept():
    limits = StringLimits(series_min=2, series_max=4, strings_max=2, equal_lengths=False)
    for grouping in groupings(6, limits):
        assert len(grouping) <= 2
        assert all(2 <= len(string) <= 4 for string in grouping)
    assert count_groupings(6, limits) == len(list(groupings(6, limits))) == 15 + 10


def test_swaps_exchange_two_panels_and_nothing_else():
    found = swaps(((0, 1), (2, 3)))
    assert set(found) == {((0, 2), (1, 3)), ((0, 3), (1, 2))}
    assert swaps(((0,), (1,))) == []


@pytest.mark.parametrize(
    ("grouping", "words"), [(((0, 1), (2, 3)), "2s2p"), (((0, 1, 2),), "3s"), (((0, 1, 2), (3,)), "3s+1s")]
)
def test_shapes_are_written_as_the_trade_does(grouping, words):
    assert shape_words(grouping) == words
