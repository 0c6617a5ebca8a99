"""The shade clock: shadows by hand from a published sun, days, worst hours, and what is to blame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import sizing
from sizing.shade.answers.clock import clear_month
from sizing.shade.scene.scene import (
    ClearSky,
    ClimateGrid,
    MonthlyClimate,
    Obstruction,
    ObstructionKind,
    SceneError,
    Site,
    WeatherFile,
)
from tests.shade_scenes import scene

POLE = Obstruction(ObstructionKind.CYLINDER, cx_m=3.0, cy_m=1.0, h_m=1.06, r_m=0.001, name="pole")
WALL = Obstruction(ObstructionKind.BOX, cx_m=3.0, cy_m=1.0, h_m=0.5, lx_m=2.0, ly_m=0.05, name="wall")


def small(*things, **changes):
    """Return the small van's panels at its place under the built-in climate, parked nose north."""
    roof = scene("d1_small_van")
    return replace(
        roof,
        obstructions=things,
        weather=ClimateGrid(),
        headings_deg=(0.0,),
        wirings=roof.wirings[:1],
        **changes,
    )


def beside(name, side):
    """Return a wall as long as all panels, to the left (1) or right (-1) of them."""
    roof = scene("d1_small_van")
    kinds = [roof.panel_type(panel) for panel in roof.panels]
    ends = [
        panel.y_m + max(kind.len_x_m, kind.len_y_m) for panel, kind in zip(roof.panels, kinds, strict=True)
    ]
    y = max(ends) + 0.1 if side > 0 else min(panel.y_m for panel in roof.panels) - 0.1
    return replace(WALL, cx_m=2.0, cy_m=y, lx_m=6.0, h_m=0.6, name=name)


def test_a_shadow_falls_where_the_published_sun_throws_it():
    """NREL/TP-560-34302 (2008), table A5.1: 17 October 2003, 12:30:30 at UTC-7, 39.742476 N, 105.1786 W,
    1830.14 m: azimuth 194.34024, zenith 50.11162. A pole 1 m over the panels throws 1 m x tan(zenith)."""
    roof = small(POLE, site=Site(39.742476, -105.1786, 1830.14, -7))
    roof = replace(roof, panels=tuple(replace(panel, z_m=0.06) for panel in roof.panels))
    found = sizing.clock_moment(roof, when="2003-10-17T12:30:30", heading_deg=90.0)
    assert found.solar_azimuth_deg == pytest.approx(194.34024, abs=1e-3)
    assert found.solar_elevation_deg == pytest.approx(90 - 50.11162, abs=1e-3)
    reach = np.tan(np.radians(50.11162))
    away = np.radians(194.34024 - 180.0)  # of north, clockwise; nose east: x is east, y is north
    tip = np.array([3.0 + reach * np.sin(away), 1.0 + reach * np.cos(away)])
    corners = np.array(found.outlines[0].corners_m)
    assert np.hypot(*(corners - tip).T).min() < 0.003


def test_a_day_is_made_of_its_moments():
    roof = small(replace(POLE, r_m=0.05))
    day = sizing.shade_day(roof, date="2024-05-03", heading_deg=30.0)
    assert len(day.minute) == 96
    for step in (30, 48, 63):
        when = f"2024-05-03T{day.minute[step] // 60:02d}:{day.minute[step] % 60:02d}"
        one = sizing.clock_moment(roof, when=when, heading_deg=30.0)
        assert day.solar_elevation_deg[step] == pytest.approx(one.solar_elevation_deg, abs=1e-6)
        assert day.power_w[step] == pytest.approx(one.power_w, rel=1e-3, abs=0.01)
        assert day.bare_power_w[step] == pytest.approx(one.bare_power_w, rel=1e-3, abs=0.01)
    night = [p for p, e in zip(day.power_w, day.solar_elevation_deg, strict=True) if e <= 0]
    assert night
    assert not any(night)


@pytest.mark.parametrize(("side", "is_morning"), [(-1, True), (1, False)])
def test_a_wall_on_the_east_costs_the_morning(side, is_morning):
    """Parked nose north the right side is the east, where the sun rises."""
    day = sizing.shade_day(small(beside("wall", side)), date="2024-03-20", heading_deg=0.0)
    assert (int(day.worst.start[11:13]) < 12) is is_morning
    at = day.minute.index(int(day.worst.start[11:13]) * 60 + 30)
    lost = np.array(day.bare_power_w) - np.array(day.power_w)
    assert day.worst.lost_wh == pytest.approx(lost[at])
    assert lost[at] == pytest.approx(lost[2::4].max())  # the middles of all hours
    assert day.to_json()["worst"]["start"] == day.worst.start


def test_the_worst_hour_of_a_year_is_the_worst_of_its_days():
    roof = small(beside("wall", -1))
    worst = sizing.worst_hour(roof, year=2024, heading_deg=0.0)
    own = sizing.shade_day(roof, date=worst.start[:10], heading_deg=0.0).worst
    assert own.start == worst.start
    assert own.lost_wh == pytest.approx(worst.lost_wh, rel=1e-6)
    for month in range(1, 13):
        other = sizing.shade_day(roof, date=f"2024-{month:02d}-15", heading_deg=0.0).worst
        assert other.lost_wh <= worst.lost_wh + 1e-6


def test_a_bare_roof_has_no_worst_hour():
    assert sizing.shade_day(small(), date="2024-06-21", heading_deg=0.0).worst is None
    assert sizing.worst_hour(small(), year=2023, heading_deg=0.0) is None


def test_where_the_sun_does_not_rise_nothing_flows():
    """Beyond the polar circle at midwinter the sun stays down."""
    day = sizing.shade_day(small(POLE, site=Site(78.2, 15.6, 0.0, 1)), date="2024-12-21", heading_deg=0.0)
    assert max(day.solar_elevation_deg) < 0
    assert max(day.bare_power_w) == 0
    assert day.worst is None


def test_the_air_is_that_of_the_month():
    roof = small()
    point = sizing.climate_at(roof.site.latitude_deg, roof.site.longitude_deg, roof.site.altitude_m)
    sky = clear_month(roof, 7)
    assert sky.t_mean_c - sky.t_daily_c == pytest.approx(point.temp_air_min_c[6])
    assert sky.t_mean_c + sky.t_daily_c == pytest.approx(point.temp_air_max_c[6])
    monthly = MonthlyClimate((4.0,) * 12, tuple(range(12)), tuple(range(10, 22)))
    assert clear_month(replace(roof, weather=monthly), 3).t_mean_c == 7.0
    assert clear_month(replace(roof, weather=WeatherFile("x", "epw")), 3).t_mean_c == 20.0
    assert clear_month(replace(roof, site=Site(-40.0, -120.0, 0.0, -8)), 1).t_mean_c == 20.0  # open sea
    own = ClearSky(linke_turbidity=2.5)
    assert clear_month(replace(roof, weather=own), 1) is own


@pytest.mark.parametrize(
    ("date", "heading", "said"),
    [
        ("yesterday", 0.0, "date: must be a day"),
        ("2023-02-30", 0.0, "date: must be a day"),
        (None, 0.0, "date: must be a day"),
        ("1949-12-31", 0.0, "date: must lie in the years 1950 to 2100"),
        ("2024-01-01", 361.0, "heading_deg: must be 0 to 360"),
    ],
)
def test_what_cannot_be_asked_is_refused(date, heading, said):
    with pytest.raises(SceneError, match=said):
        sizing.shade_day(small(POLE), date=date, heading_deg=heading)


def test_a_string_is_blamed_on_what_stands_east_and_west():
    """Parked nose north what stands on the right shades the morning, on the left the afternoon."""
    roof = small(beside("awning box", -1), beside("boat", 1))
    first = sizing.string_blame(roof)[0]
    told = {part.when: part.name for part in first.parts}
    assert told["in the morning"] == "awning box"
    assert told["in the afternoon"] == "boat"
    assert "in the morning" in first.words.split(" by the awning box")[0]
    assert "in the afternoon by the boat" in first.words
    assert "parked nose north, the worst direction" in first.words
    assert first.lost_kwh > 0


def test_a_bare_roof_blames_nothing():
    assert sizing.string_blame(small()) == ()


def test_things_that_hide_one_another_are_blamed_together():
    """Each of two equal walls alone would shade the same: taking one away gives nothing back."""
    twin = beside("one", -1)
    found = sizing.string_blame(small(twin, replace(twin, name="other")), wiring=None)
    assert "by several things together" in found[0].words
