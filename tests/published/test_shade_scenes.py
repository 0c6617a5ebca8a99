"""The year of three published roofs against brute force.

Source: fixtures/published/shade, answers made outside this engine with pvlib 0.16 and 32 × 32 rays a cell,
every daylight hour, 24 headings, full cell-level curves; good to ±0.05 %. The tolerance is the table
printed beside them, tightened to 0.3 % of the mean and 0.7 % of any heading, which the gridded method is
built for.
"""

from __future__ import annotations

import numpy as np
import pytest

from sizing.shade.answers.hourly import energy_kwh, hourly_year
from sizing.shade.answers.year import light_losses
from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.light import sky_open
from sizing.shade.engine.place import build_place
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import SCENES, expected, panel_light_loss, scene

UNSHADED, MEAN, HEADING, LOSS, LIGHT, CLEAR_ORDER = 0.002, 0.003, 0.007, 0.003, 0.003, 0.003


def judge(name, wiring, by_heading, unshaded):
    answer = expected(name)["wirings"][wiring]
    assert unshaded == pytest.approx(answer["unshaded_kwh"], rel=UNSHADED), wiring
    assert by_heading.mean() == pytest.approx(answer["mean_kwh"], rel=MEAN), wiring
    assert np.abs(by_heading / np.array(answer["kwh_by_heading"]) - 1).max() < HEADING, wiring
    assert 1 - by_heading.mean() / unshaded == pytest.approx(answer["mean_loss"], abs=LOSS), wiring
    worst = expected(name)["headings_deg"][int(by_heading.argmin())]
    assert answer["kwh_by_heading"][expected(name)["headings_deg"].index(worst)] == pytest.approx(
        answer["worst_kwh"], rel=0.002
    )


def judge_order(name, means):
    answer = expected(name)["wirings"]
    for one in means:
        for two in means:
            true = answer[one]["mean_kwh"] / answer[two]["mean_kwh"]
            if true > 1 + CLEAR_ORDER:
                assert means[one] > means[two], (one, two)


@pytest.mark.parametrize("name", SCENES)
def test_the_gridded_year_agrees_with_brute_force(name):
    roof = scene(name)
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof))
    shadows = cast_shadows(place, layout)
    years = {wiring.name: wiring_year(place, shadows, wiring) for wiring in roof.wirings}
    for wiring, year in years.items():
        judge(name, wiring, year.by_heading_kwh, year.mean_unshaded_kwh)
    means = {wiring: year.mean_kwh for wiring, year in years.items()}
    judge_order(name, means)
    assert sorted(means, key=lambda w: -means[w]) == expected(name)["ranking_by_mean"]
    light = dict(zip(layout.panel_ids, light_losses(place, shadows), strict=True))
    assert light == pytest.approx(expected(name)["panel_irradiation_loss_mean"], abs=LIGHT)


@pytest.mark.parametrize("name", SCENES)
def test_every_hour_agrees_with_brute_force(name):
    roof = scene(name)
    day = daylight_for(roof)
    year = hourly_year(roof, day)
    means = {}
    for wiring, span in zip(roof.wirings, year.spans, strict=True):
        by_heading = energy_kwh(year.power_w, day, span)
        judge(name, wiring.name, by_heading, energy_kwh(year.unshaded_w, day, span).mean())
        assert by_heading.mean() == pytest.approx(
            expected(name)["wirings"][wiring.name]["mean_kwh"], rel=0.0015
        )
        means[wiring.name] = by_heading.mean()
    assert sorted(means, key=lambda w: -means[w]) == expected(name)["ranking_by_mean"]
    layout = build_layout(roof)
    light = panel_light_loss(year, layout, day, sky_open(roof, layout))
    assert light == pytest.approx(list(expected(name)["panel_irradiation_loss_mean"].values()), abs=0.0005)
