"""Threads of the shade engine: no bit of an answer changes, every piece is done, a fork does no harm."""

import os
import threading
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest

import sizing
from sizing.shade.answers.wirings import mean_weight, score_groupings
from sizing.shade.engine import threads
from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.grid import direction_grid
from sizing.shade.engine.place import build_place
from sizing.shade.engine.spacing import asked_weight
from sizing.shade.scene.groupings import StringLimits, groupings
from sizing.shade.scene.scene import Controller
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import scene


@contextmanager
def threads_in_use(count):
    sizing.use_threads(count)
    try:
        yield
    finally:
        sizing.use_threads(1)


def answers(roof, grid):
    """Return every array the grid makes of a roof."""
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof), grid=grid)
    shadows = cast_shadows(place, layout)
    found = [shadows.share, shadows.touched, shadows.sky, shadows.even, set_curves(place, shadows)]
    for wiring in roof.wirings:
        year = wiring_year(place, shadows, wiring)
        found += [year.power_w, year.voltage_v, year.energy_kwh]
    every = list(groupings(layout.n_panels, StringLimits(series_max=4)))[:40]
    weight = mean_weight(place, shadows)
    return [*found, score_groupings(place, shadows, Controller(strings=()), every, weight)]


def set_curves(place, shadows):
    """Return the curves, with those no shadow touches and those not asked left out: they stay unset."""
    n_elevation, _, n_azimuth = place.state_of.shape
    shape = (n_elevation, place.n_sunlit, n_azimuth)
    touched = shadows.touched[: n_elevation * n_azimuth].reshape(n_elevation, 1, n_azimuth, -1)
    is_set = touched & place.sunlit[place.state_of[:, : place.n_sunlit]][..., None]
    is_asked = asked_weight(np.ones(place.state_of.shape), place.spacing) > 0.0
    is_set &= is_asked[:, : place.n_sunlit, :, None]
    curves = shadows.curves.reshape(*shape, *shadows.curves.shape[1:])
    return np.where(is_set[..., None], curves, 0.0)


@pytest.mark.parametrize("pitch_deg", [0.0, 3.0])
def test_two_threads_give_the_same_bits_as_one(pitch_deg):
    roof = replace(scene("d2_motorhome"), pitch_deg=pitch_deg, headings_deg=(0.0, 90.0))
    grid = direction_grid((2.0, 8.0, 20.0, 45.0, 75.0), 12)
    alone = answers(roof, grid)
    for count in (2, 3):
        with threads_in_use(count):
            together = answers(roof, grid)
        for one, two in zip(alone, together, strict=True):
            assert np.array_equal(one, two)


def test_pieces_are_all_done_once_and_by_the_asker_where_no_thread_is_free():
    done, gate = [], threading.Event()
    with threads_in_use(2):
        threads._pool(1).submit(gate.wait)  # the one thread of the pool is busy
        threads.in_pieces(lambda *asked: done.append((*asked, threading.current_thread())), "roof")
        assert sorted(row[:3] for row in done) == [("roof", 0, 2), ("roof", 1, 2)]
        assert {row[3] for row in done} == {threading.current_thread()}
        gate.set()


def test_an_error_in_another_thread_reaches_the_asker():
    def work(piece, pieces):
        if piece == 1:
            raise ZeroDivisionError

    with threads_in_use(2), pytest.raises(ZeroDivisionError):
        threads.in_pieces(work)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
@pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
def test_a_forked_child_makes_threads_of_its_own():
    with threads_in_use(2):
        threads.in_pieces(lambda piece, pieces: None)
        child = os.fork()
        if child == 0:
            seen = []
            threads._pool(1).submit(seen.append, 1).result(timeout=10)
            os._exit(0 if seen == [1] else 1)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


@pytest.mark.parametrize("count", [0, -1, 9])
def test_a_number_of_threads_that_cannot_be_is_refused(count):
    with pytest.raises(ValueError, match="1 to 8 threads"):
        sizing.use_threads(count)
