"""One moment: outlines, powers and refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from sizing.shade.answers.hourly import hourly_year
from sizing.shade.answers.moment import shade_moment
from sizing.shade.scene.scene import ClimateGrid, SceneError
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import scene


def test_a_shadow_is_as_long_as_the_sun_is_low():
    """Plane geometry: reach = (height - panel height)/tan(elevation), away from the sun."""
    roof = scene("d1_small_van")
    found = shade_moment(roof, when="2023-03-21T08:30", heading_deg=0.0)
    mast = next(o for o in found.outlines if o.name == "cylinder 4")
    reach = (1.1 - 0.06) / np.tan(np.radians(found.solar_elevation_deg))
    away = np.radians(found.solar_azimuth_deg + 180.0)  # heading north: x north, y west
    tip = np.array([0.35 + reach * np.cos(away), 0.35 - reach * np.sin(away)])
    corners = np.array(mast.corners_m)
    assert np.hypot(*(corners - tip).T).min() < 0.025
    assert shapely.Polygon(corners).is_valid


def test_the_power_of_a_moment_is_that_of_the_every_hour_year():
    roof = replace(scene("d1_small_van"), headings_deg=(45.0,))
    day = daylight_for(roof)
    year = hourly_year(roof, day, wirings=roof.wirings[1:2], above=247, grid_v=256)
    for i in (300, 1200, 2500, 3900):
        stamp = np.datetime64(int(day.time_utc_s[i]) + roof.site.utc_offset_h * 3600, "s")
        found = shade_moment(roof, when=str(stamp), heading_deg=45.0, wiring=roof.wirings[1])
        assert found.power_w == pytest.approx(year.power_w[i, 0].sum(), rel=1e-3, abs=0.01)
        assert found.bare_power_w == pytest.approx(year.unshaded_w[i, 0].sum(), rel=1e-3, abs=0.01)
        assert sum(s.power_w for s in found.strings) == pytest.approx(found.power_w)


def test_at_night_nothing_is_drawn_and_nothing_flows():
    found = shade_moment(scene("d1_small_van"), when="2023-06-21T00:30", heading_deg=0.0)
    assert found.solar_elevation_deg < 0
    assert found.outlines == ()
    assert found.power_w == found.bare_power_w == 0.0


def test_a_scene_with_other_weather_is_shown_under_a_clear_sky():
    roof = replace(scene("d2_motorhome"), weather=ClimateGrid())
    found = shade_moment(roof, when="2023-06-21T12:00", heading_deg=180.0)
    assert 700 < found.dni_w_m2 < 1100
    assert found.temp_air_c == 20.0
    assert 0 < found.power_w < found.bare_power_w
    assert found.to_json()["strings"][0]["panel_ids"] == ("A", "B", "C", "D")


@pytest.mark.parametrize("when", ["noon", "", "2023-13-01T00:00", "2023-06-21T12:00+02:00"])
def test_a_time_that_is_none_is_refused(when):
    with pytest.raises(SceneError, match="when: must be a"):
        shade_moment(scene("d1_small_van"), when=when, heading_deg=0.0)
