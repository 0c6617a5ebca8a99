"""Corners of the shade engine that everyday scenes miss: odd panels, odd weather, stopped searches."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from sizing.shade.answers import live, wirings
from sizing.shade.answers.check import ShadeCheck
from sizing.shade.answers.findings import _burdens, _two_sided
from sizing.shade.answers.live import live_year
from sizing.shade.answers.maps import beam_lost_map
from sizing.shade.answers.moment import shade_moment
from sizing.shade.answers.sides import StringSides
from sizing.shade.answers.wirings import _starts, default_controller, rank_wirings
from sizing.shade.answers.year import shade_year
from sizing.shade.engine.geometry import panel_frame
from sizing.shade.engine.grid import sky_classes
from sizing.shade.engine.light import state_index
from sizing.shade.layout.best import search_layout
from sizing.shade.layout.candidates import find_candidates
from sizing.shade.layout.packing import _solve, greedy, pack
from sizing.shade.scene.cells import panel_type_from_sheet
from sizing.shade.scene.groupings import StringLimits
from sizing.shade.scene.lay_rules import LayoutRules
from sizing.shade.scene.read_scene import scene_from_json
from sizing.shade.scene.results import PanelYear, ShadeResult
from sizing.shade.scene.scene import (
    Controller,
    Hinge,
    MonthlyClimate,
    Obstruction,
    ObstructionKind,
    PlacedPanel,
    SceneError,
    Site,
    WeatherFile,
    Wiring,
)
from sizing.shade.sky.months import monthly_daylight
from sizing.shade.sky.weather import _pvgis_offset, daylight_for, weather_from_file
from sizing.shade.warm import warm_shade
from tests.designs import panel
from tests.shade_scenes import DATA, every_hour_kwh, panel_type, scene
from tests.unit.sizing_shade.test_lay import COARSE, random_candidates


@pytest.fixture
def facts():
    return json.loads((DATA / "d1_small_van.json").read_text())


@pytest.fixture
def van():
    """Return the small van parked one way, one wiring."""
    roof = scene("d1_small_van")
    return replace(roof, wirings=roof.wirings[:1], headings_deg=(0.0, 90.0))


def with_limit(roof, watts):
    make = replace(roof.wirings[0].controllers[0], p_max_w=watts)
    return replace(roof, wirings=(Wiring("w", (make,)),))


def test_every_kernel_is_warmed_without_a_word(capsys):
    warm_shade()
    warm_shade(every=False)
    assert capsys.readouterr().out == ""


def test_a_square_panel_has_one_orientation(van):
    square = replace(panel_type(nx=6, ny=6), len_x_m=0.8, len_y_m=0.8)
    roof = replace(van, panel_types={"T": square}, panels=())
    found = find_candidates(roof, LayoutRules(grid_m=0.4), daylight_for(van), None)
    assert set(found.rot_deg.tolist()) == {0}


def test_a_sheet_whose_current_hardly_falls_has_no_curve():
    odd = panel("X", 110, (1.1, 0.56, 0.03), 7.0, (18.6, 22.4), (5.92, 5.93), (0.28, 0.36), 15, 36)
    with pytest.raises(SceneError, match=r"no cell curve passes Voc 22\.4 V, Isc 5\.93 A"):
        panel_type_from_sheet(replace(odd, single_diode=None))


def test_answers_are_plain_json(van):
    assert ShadeCheck((), (), True).to_json() == {"wirings": (), "ranking": (), "same_order": True}
    lost = beam_lost_map(van).to_json()
    assert [one["panel_id"] for one in lost["panels"]] == ["A", "B", "C", "D"]


@pytest.mark.parametrize(
    ("hinge", "normal"),  # the panel faces its hinge: 30° from upright, worked with sin 30° = 1/2
    [
        (Hinge.REAR, (-0.5, 0.0, 0.8660254)),
        (Hinge.FRONT, (0.5, 0.0, 0.8660254)),
        (Hinge.RIGHT, (0.0, -0.5, 0.8660254)),
        (Hinge.LEFT, (0.0, 0.5, 0.8660254)),
    ],
)
def test_a_tilted_panel_faces_its_hinge_and_stands_on_it(hinge, normal):
    kind = panel_type()
    frame = panel_frame(PlacedPanel("A", "T", 1.0, 0.5, 0.1, tilt_deg=30.0, hinge=hinge), kind)
    assert frame.normal == pytest.approx(normal)
    along, across = frame.axis_u * kind.len_x_m, frame.axis_v * kind.len_y_m
    corners = [frame.origin_m + u * along + v * across for u in (0, 1) for v in (0, 1)]
    low = [corner for corner in corners if corner[2] == pytest.approx(0.1)]
    edge = {Hinge.REAR: (0, 1.0), Hinge.FRONT: (0, 2.1), Hinge.RIGHT: (1, 0.5), Hinge.LEFT: (1, 1.06)}[hinge]
    assert [corner[edge[0]] for corner in low] == pytest.approx([edge[1]] * 2)


def test_tilted_panels_keep_the_controllers_limit(van):
    leaning = replace(van, panels=(replace(van.panels[0], tilt_deg=20.0), *van.panels[1:]))
    free = shade_year(with_limit(leaning, 1e9), detail=False).wirings[0]
    high = shade_year(with_limit(leaning, 1e6), detail=False).wirings[0]
    low = with_limit(leaning, 150.0)
    assert high.mean_kwh == pytest.approx(free.mean_kwh, rel=1e-9)
    exact = every_hour_kwh(low)["w"]
    assert shade_year(low, detail=False).wirings[0].kwh_by_heading == pytest.approx(exact, rel=0.02)
    assert exact.mean() < 0.9 * free.mean_kwh


def test_a_map_off_the_level_counts_every_heading(van):
    lost = beam_lost_map(replace(van, pitch_deg=5.0))
    shares = np.concatenate([np.ravel(one.beam_lost_fraction) for one in lost.panels])
    assert 0.0 <= shares.min() < shares.max() < 1.0


def test_states_off_the_level_have_a_row_each():
    assert state_index(2, 3, level=False).tolist() == [[0, 1, 2], [3, 4, 5]]


def test_a_year_without_cloud_or_without_sun_has_its_classes():
    rise, ones = np.array([1.0, 1.0, 2.0]), np.ones(3)
    assert sky_classes(rise, np.zeros(3), ones, ones, (2, 1)).max() < 2
    assert set(sky_classes(rise, ones, ones, ones, (2, 1)).tolist()) == {2}


def sides(lost_by_part):
    return StringSides(
        panel_ids=("A", "B"),
        lost_by_side_kwh=np.array([0.0, 5.0, 0.0, 5.0]),
        panel_lost_by_side_kwh=np.array([[0.0, 5.0, 0.0, 0.0], [0.0, 0.0, 0.0, 5.0]]),
        heading_deg=0.0,
        lost_by_part_kwh=np.array(lost_by_part),
        could_by_part_kwh=np.array([100.0, 100.0, 100.0]),
        side_by_part=("left", "front", "right"),
    )


def test_a_two_sided_string_tells_its_day_only_where_both_ends_are_lost():
    assert "of the morning" in _two_sided(0, sides([20.0, 0.0, 20.0]), (1, 3), 10.0).sentence
    assert "of the morning" not in _two_sided(0, sides([20.0, 0.0, 1.0]), (1, 3), 10.0).sentence


def test_a_panel_that_costs_more_than_it_gives_is_named():
    def year(panel_id, marginal):
        return PanelYear(panel_id, 0.5, 100.0, 0.5, 50.0, 0.5, marginal)

    years = (year("A", -12.0), year("B", 3.0), year("C", None))
    result = ShadeResult("s", "grid", (0.0,), "w", (), (), (), years, (), (), None)
    (found,) = _burdens(result)
    assert found.sentence.startswith("Panel A costs more than it gives: bridged out, the array gives 12 kWh")
    assert found.gain_kwh == 12.0


def test_lone_panels_in_parallel_have_nothing_to_swap(van):
    lone = Controller(strings=(("A",), ("B",)), v_min_v=16.0, v_max_v=150.0)
    found = shade_year(replace(van, wirings=(Wiring("1s2p", (lone,)),))).findings
    assert "swap" not in {finding.kind for finding in found}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda f: f.update(name=5), "name: must be text, got 5"),
        (lambda f: f["wirings"]["4s"]["controllers"][0].update(blocking="yes"), "must be true or false"),
        (lambda f: f["panel_types"]["P110"].update(nx=100, ny=100, n_bypass=2), "may have at most"),
        (lambda f: f.update(obstructions=[f["obstructions"][0]] * 400), "must hold at most"),
        (
            lambda f: f["wirings"]["4s"]["controllers"][0].update(strings=[]),
            "must hold 1 to 60 strings, got 0",
        ),
        (
            lambda f: f.update(
                weather={"model": "monthly", "ghi_kwh_m2_day": [3], "t_min_c": [0], "t_max_c": [9]}
            ),
            "must hold 12 monthly values, got 1",
        ),
    ],
)
def test_further_rubbish_is_refused_by_its_path(facts, change, said):
    change(facts)
    with pytest.raises(SceneError, match=said):
        scene_from_json(facts)


def test_unequal_strings_are_tried_where_equal_ones_cannot_be(van):
    rules = replace(COARSE, grid_m=0.2, panels_max=3, string_limits=StringLimits(series_max=2, strings_max=2))
    found = search_layout(replace(van, panels=()), rules)
    assert sorted(len(string) for string in found.layout.strings) == [1, 2]


def test_only_the_last_roofs_are_kept(van):
    bare = replace(van, obstructions=(), panels=van.panels[:1], wirings=())
    for name in "abcdef":
        live_year(replace(bare, panels=(replace(bare.panels[0], id=name),)))
    assert len(live._roofs) <= live.KEPT_ROOFS


def test_a_moment_without_wiring_takes_each_panel_alone(van):
    found = shade_moment(replace(van, wirings=()), when="2023-06-21T12:00", heading_deg=0.0)
    assert len(found.to_json()["strings"]) == 4


def test_a_controller_that_never_starts_delivers_nothing(van):
    asleep = replace(van.wirings[0].controllers[0], v_start_v=1400.0)
    roof = replace(van, wirings=(Wiring("asleep", (asleep,)),))
    found = shade_moment(roof, when="2023-06-21T12:00", heading_deg=0.0).to_json()
    assert sum(string["power_w"] for string in found["strings"]) == 0.0


def test_a_thing_below_the_panels_draws_no_shadow(van):
    low = Obstruction(ObstructionKind.BOX, 2.0, 0.9, 0.02, lx_m=0.3, ly_m=0.3, name="strip")
    found = shade_moment(replace(van, obstructions=(low,)), when="2023-06-21T12:00", heading_deg=0.0)
    assert found.outlines == ()


def test_months_of_polar_twilight_have_no_samples():
    climate = MonthlyClimate((0.5,) * 12, (-20.0,) * 12, (-10.0,) * 12)
    for latitude in (72.0, 76.0, 80.0, 84.0, 88.0):
        day = monthly_daylight(climate, Site(latitude, 0.0, 0.0, 0))
        assert day.ghi_w_m2.min() >= 0.0
        assert len(set(day.month.tolist())) < 12
    with pytest.raises(SceneError, match="has no light in the year"):
        monthly_daylight(replace(climate, ghi_kwh_m2_day=(0.0,) * 12), Site(45.0, 0.0, 0.0, 0))


def test_a_search_without_time_gives_the_first_layout():
    found = random_candidates(np.random.default_rng(3), 40)
    first = greedy(found, None)
    chosen, bound, is_proved = _solve(found, LayoutRules(time_limit_s=1e-9), first, None)
    assert set(chosen.tolist()) == set(first.tolist())
    assert bound >= found.worth_kwh[chosen].sum()
    assert not is_proved


def test_a_search_told_to_stop_keeps_what_it_has():
    found = random_candidates(np.random.default_rng(4), 40)
    told = []

    def stop(_done, words):
        told.append(words)
        return not words.startswith("layout:")

    made = pack(found, LayoutRules(), stop)
    assert any(words.startswith("layout:") for words in told)
    assert made.bound_kwh >= made.worth_kwh > 0.0


def epw(tmp_path, change):
    """Return a file of two days of June, with a change to the fields of every row."""
    import gzip

    raw = gzip.decompress((DATA / "US_FL_Miami_722020_TMY3.epw.gz").read_bytes()).decode().splitlines()
    rows = [row.split(",") for row in raw[8 + 151 * 24 : 8 + 153 * 24]]
    path = tmp_path / "some.epw"
    path.write_text("\n".join([*raw[:8], *(",".join(change(row)) for row in rows)]) + "\n")
    return WeatherFile(str(path), "epw")


def test_a_file_with_light_that_cannot_be_is_refused(tmp_path):
    with pytest.raises(SceneError, match="holds light over 2000 W/m²"):
        weather_from_file(epw(tmp_path, lambda row: [*row[:13], "2500", *row[14:]]))


def test_a_file_with_gaps_is_refused(tmp_path):
    with pytest.raises(SceneError, match="lacks values of ghi"):
        weather_from_file(epw(tmp_path, lambda row: [*row[:13], "", *row[14:]]))


def test_a_pvgis_file_without_the_line_stands_on_the_hour():
    assert _pvgis_offset(b"Irradiance Time Offset (h): 0.25\n") == 0.25
    assert _pvgis_offset(b"Latitude: 45\n") == 0.0


def test_a_roof_without_wirings_has_a_controller_of_wide_limits(van):
    assert default_controller(replace(van, wirings=())) == Controller(strings=())


def test_the_sieve_finds_the_same_best(van, monkeypatch):
    loose = StringLimits(equal_lengths=False)
    whole = rank_wirings(van, limits=loose)
    monkeypatch.setattr(wirings, "SIEVE_ABOVE", 5)
    monkeypatch.setattr(wirings, "SIEVE_KEEP", 6)
    sieved = rank_wirings(van, limits=loose)
    assert sieved.n_tried == whole.n_tried == 15  # Bell number of four panels
    assert sieved.wirings[0].name == whole.wirings[0].name


@pytest.mark.parametrize("complete", [True, False])
def test_a_ranking_told_to_stop_says_it_is_not_complete(van, monkeypatch, complete):
    monkeypatch.setattr(wirings, "BATCH", 1)
    monkeypatch.setattr(wirings, "ALL_UP_TO", 10 if complete else 1)
    found = rank_wirings(van, progress=lambda _done, _words: False)
    assert found.n_tried == 1
    assert not found.is_complete


def test_starts_of_a_search_keep_the_limits():
    loose = StringLimits(series_min=2, series_max=3, equal_lengths=False)
    assert _starts(5, loose) == [((0, 1, 2), (3, 4)), ((0, 2, 4), (1, 3))]
    assert _starts(4, StringLimits(series_min=3, series_max=4, equal_lengths=False)) == [((0, 1, 2, 3),)]
    with pytest.raises(SceneError, match="7 panels cannot be split into strings"):
        _starts(7, StringLimits(series_min=2, series_max=3))
