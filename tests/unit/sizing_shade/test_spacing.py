"""Rows of the grid that carry little energy are asked at fewer azimuths: the year must not notice."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from sizing.shade.answers.wirings import mean_weight
from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.place import build_place
from sizing.shade.engine.spacing import asked_weight, node_spacing
from sizing.shade.kernels.kernel_spacing import fill_between, first_asked
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import SCENES, in_weather, scene

SHAPE = (4, 3, 72)  # elevations, classes (the last overcast), azimuths


def random_spacing(rng):
    spacing = rng.choice([1, 2, 3, 6, 12], SHAPE[:2])
    spacing[:, 2] = 1
    return spacing


def filled(values, spacing):
    """Return values with those between asked azimuths overwritten, as the engine does it."""
    made = values.copy()
    for e, k in np.ndindex(spacing.shape):
        fill_between(made[e, k], first_asked(e, k, spacing[e, k]), spacing[e, k])
    return made


@pytest.mark.parametrize("seed", range(5))
def test_values_between_are_straight_around_the_circle(seed):
    """numpy's own interpolation with a period."""
    rng = np.random.default_rng(seed)
    values, spacing = rng.normal(size=SHAPE), random_spacing(rng)
    made = filled(values, spacing)
    for e, k in np.ndindex(spacing.shape):
        asked = np.arange(first_asked(e, k, spacing[e, k]), SHAPE[2], spacing[e, k])
        want = np.interp(np.arange(SHAPE[2]), asked, values[e, k, asked], period=SHAPE[2])
        assert made[e, k] == pytest.approx(want, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_a_weighted_sum_of_filled_rows_needs_the_asked_nodes_only(seed):
    rng = np.random.default_rng(seed)
    values, weight, spacing = rng.normal(size=SHAPE), rng.random(SHAPE), random_spacing(rng)
    moved = asked_weight(weight, spacing)
    assert (moved * values).sum() == pytest.approx((weight * filled(values, spacing)).sum())
    assert moved.sum() == pytest.approx(weight.sum())
    assert np.count_nonzero(moved) == (SHAPE[2] // spacing).sum()


def test_a_first_sieve_asks_that_many_times_less():
    moved = asked_weight(np.ones(SHAPE), np.full(SHAPE[:2], 2), 6)
    assert np.count_nonzero(moved) == 4 * 3 * 6
    assert moved.sum() == pytest.approx(np.prod(SHAPE))


def test_neighbouring_rows_ask_in_each_others_gaps():
    assert [first_asked(e, 0, 6) for e in range(4)] == [0, 3, 0, 3]
    assert [first_asked(2, k, 2) for k in range(3)] == [0, 1, 0]
    assert first_asked(0, 1, 3) == 0  # a third of a step would not look the same in a mirror


def test_rows_are_asked_the_closer_the_more_energy_they_carry():
    maps = np.ones((2, 12, *SHAPE))
    maps[:, :, 1:] *= np.array([0.02, 0.1, 1.0])[:, None, None]
    spacing = node_spacing(maps, 2)
    assert spacing[:, 0].tolist() == [1, 6, 2, 1]  # 16, 0.3, 1.6 and 16 % of the energy
    assert (spacing[:, 2] == 1).all()  # overcast: no direction differs
    assert node_spacing(maps[..., ::3], 2)[:, 0].tolist() == [1, 2, 2, 1]  # never more than 30° apart
    assert (node_spacing(maps[..., ::6], 2) == 1).all()


@cache
def both(name):
    roof = in_weather(scene(name), "boulder")
    layout, day = build_layout(roof), daylight_for(roof)
    places = [build_place(roof, layout, day, is_sparse=is_sparse) for is_sparse in (True, False)]
    return roof, [(place, cast_shadows(place, layout)) for place in places]


@pytest.mark.parametrize("name", SCENES)
def test_the_year_is_that_of_every_node(name):
    """Within a third of what the grid itself is off from every hour."""
    roof, pairs = both(name)
    for wiring in roof.wirings:
        sparse, dense = (wiring_year(*pair, wiring) for pair in pairs)
        assert sparse.mean_kwh == pytest.approx(dense.mean_kwh, rel=5e-4)
        assert sparse.by_heading_kwh == pytest.approx(dense.by_heading_kwh, rel=1.5e-3)
        assert sparse.unshaded_kwh == pytest.approx(dense.unshaded_kwh)


def test_asked_nodes_are_answered_as_ever_and_fewer_than_six_in_ten_are_asked():
    roof, pairs = both("d2_motorhome")
    place = pairs[0][0]
    is_asked = asked_weight(np.ones(place.state_of.shape), place.spacing) > 0.0
    assert is_asked[:, : place.n_sunlit].mean() < 0.6
    sparse, dense = (wiring_year(*pair, roof.wirings[0]).power_w for pair in pairs)
    # the search starts at the node before: two voltages level to 7 digits may meet another parabola
    assert sparse[:, is_asked.ravel()] == pytest.approx(dense[:, is_asked.ravel()], rel=1e-3)


def test_off_the_level_every_node_is_asked():
    roof = in_weather(scene("d1_small_van"), "boulder")
    leaning = replace(roof, roll_deg=4.0, headings_deg=(0.0, 90.0))
    place = build_place(leaning, build_layout(leaning), daylight_for(leaning))
    assert (place.spacing == 1).all()


def test_what_a_watt_is_worth_adds_up_to_the_same_year():
    _, ((place, shadows), _) = both("d2_motorhome")
    weight = mean_weight(place, shadows)
    assert asked_weight(weight, place.spacing).sum() == pytest.approx(weight.sum())
