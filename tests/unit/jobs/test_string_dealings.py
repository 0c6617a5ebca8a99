"""Sharing panels between controllers: counted against binomial coefficients, models stay in their places."""

from __future__ import annotations

import math

import pytest

import sizing
from jobs.engine.string_shares import MOST_SHARES, other_shares

PLACES = {str(number): (float(number), number % 2.0) for number in range(1, 21)}


def strings(**groups):
    """Return strings from ``A1="1 2 3"``: the letter is the controller."""
    return tuple(
        sizing.StringInput(id=name, controller_id=name[0], panel_ids=tuple(panels.split()))
        for name, panels in groups.items()
    )


def shared(wiring, twin_of=None, odd=()):
    """Return the other ways to share a wiring's panels; panels in ``odd`` are of another model."""
    panels = [panel for one in wiring for panel in one.panel_ids]
    labels = {one.controller_id for one in wiring}
    return other_shares(
        wiring,
        model_of={panel: panel in odd for panel in panels},
        twin_of=twin_of or {label: label for label in labels},
        places=PLACES,
    )


def on(wiring, label):
    """Return the panels on a controller."""
    return {panel for one in wiring if one.controller_id == label for panel in one.panel_ids}


def test_every_three_of_five_are_tried_once():
    found, is_whole = shared(strings(A1="1 2 3", B1="4 5"))
    assert is_whole
    assert len(found) == math.comb(5, 3) - 1  # the given one is left out
    assert len({frozenset(on(one, "A")) for one in found}) == len(found)
    for one in found:
        assert [len(string.panel_ids) for string in one] == [3, 2]
        assert on(one, "A") | on(one, "B") == {"1", "2", "3", "4", "5"}


def test_controllers_of_one_kind_only_swap_names():
    found, _ = shared(strings(A1="1 2", B1="3 4"), twin_of={"A": "like", "B": "like"})
    assert len(found) == math.comb(4, 2) / 2 - 1


def test_a_panel_changes_places_with_its_own_model_only():
    found, _ = shared(strings(A1="1 2", A2="3 4", B1="5 6"), odd={"5", "6"})
    assert found == []
    found, _ = shared(strings(A1="1 5", B1="2 6"), odd={"5", "6"})
    assert len(found) == math.comb(2, 1) * math.comb(2, 1) - 1
    assert all(len(on(one, "A") & {"5", "6"}) == 1 for one in found)


@pytest.mark.parametrize("groups", [{"A1": "1 2 3"}, {"A1": "1 2", "A2": "3 4"}])
def test_one_controller_has_nothing_to_share(groups):
    assert shared(strings(**groups)) == ([], True)


def test_many_panels_are_shared_neatly_along_and_across():
    assert math.comb(20, 10) > MOST_SHARES
    wiring = strings(A1=" ".join(map(str, range(1, 11))), B1=" ".join(map(str, range(11, 21))))
    found, is_whole = shared(wiring)
    assert not is_whole
    rear = {str(number) for number in range(1, 11)}
    right = {str(number) for number in range(2, 21, 2)}
    assert [on(one, "A") for one in found] == [{str(n) for n in range(11, 21)}, right, {*PLACES} - right]
    assert rear == on(wiring, "A")
