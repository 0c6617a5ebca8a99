"""Weather: files keep their light, months keep their means, what is no weather is refused by name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizing.shade.scene.scene import (
    ClimateGrid,
    Heat,
    HourlyWeather,
    MonthlyClimate,
    SceneError,
    Site,
    SkyModel,
    WeatherFile,
)
from sizing.shade.sky.months import MONTH_DAYS, daily_diffuse_share, ten_days
from sizing.shade.sky.plain_years import plain_year
from sizing.shade.sky.sky_formulas import CLEARNESS, perez_shares, relative_airmass
from sizing.shade.sky.weather import _by_pvlib, _unpacked, daylight_for
from tests.shade_scenes import DATA, YEARS, in_weather, scene, total_light_kwh_m2

#: Yearly GHI of the files' own columns [kWh/m²], as their makers' summaries print them, rounded.
FILE_GHI = {"phoenix": 2094, "seattle": 1240, "boulder": 1655, "miami": 1753, "piedmont": 1436}


@pytest.mark.parametrize("name", sorted(YEARS))
def test_a_file_keeps_its_light(name):
    """Beam times sine plus diffuse closes on the file's GHI within 6 % (TMY3 does not close exactly)."""
    day = daylight_for(in_weather(scene("d1_small_van"), name))
    assert total_light_kwh_m2(day).sum() == pytest.approx(FILE_GHI[name], rel=0.06)
    assert 4300 < day.n < 4500
    assert np.all(day.elevation_deg > 0)


@pytest.mark.parametrize("sky", list(SkyModel))
def test_splitting_the_sky_keeps_light_on_the_flat(sky):
    roof = in_weather(scene("d1_small_van"), "boulder")
    plain = daylight_for(replace(roof, weather=replace(roof.weather, sky_model=SkyModel.ISOTROPIC)))
    split = daylight_for(replace(roof, weather=replace(roof.weather, sky_model=sky)))
    sine = np.sin(np.radians(plain.elevation_deg))
    assert split.dni_w_m2 * sine + split.dhi_w_m2 == pytest.approx(
        plain.dni_w_m2 * sine + plain.dhi_w_m2, abs=1e-6
    )
    assert np.all(split.dhi_w_m2 >= -1e-9)
    if sky is not SkyModel.ISOTROPIC:
        assert split.dhi_w_m2.sum() < 0.95 * plain.dhi_w_m2.sum()


def test_months_keep_their_means():
    ghi = (1.5, 2.3, 3.6, 4.9, 5.8, 6.6, 6.7, 5.8, 4.6, 3.1, 1.8, 1.3)
    climate = MonthlyClimate(ghi, (0.0,) * 12, (10.0,) * 12)
    roof = replace(scene("d1_small_van"), weather=climate)
    light = total_light_kwh_m2(daylight_for(roof))
    assert light / np.array(MONTH_DAYS) == pytest.approx(ghi, rel=0.035)


def test_polar_night_gives_no_light_but_a_year():
    climate = MonthlyClimate(
        (0, 0.3, 1.5, 3.5, 5, 5.5, 5, 3.5, 1.8, 0.6, 0.02, 0), (-15.0,) * 12, (-8.0,) * 12
    )
    roof = replace(scene("d1_small_van"), weather=climate, site=Site(69.6, 18.9, 10.0, 1))
    light = total_light_kwh_m2(daylight_for(roof))
    assert light[0] == light[11] == 0.0
    assert light[5] > 100


def test_the_climate_table_is_read_at_the_site():
    roof = replace(scene("d1_small_van"), weather=ClimateGrid(), site=Site(33.45, -111.98, 340.0, -7))
    assert 1900 < total_light_kwh_m2(daylight_for(roof)).sum() < 2250
    sea = replace(roof, site=Site(30.0, -40.0, 0.0, -3))
    with pytest.raises(SceneError, match="location: lies outside the climate table"):
        daylight_for(sea)


def test_ten_days_average_what_they_must():
    """Bendt, Collares-Pereira and Rabl (1981): days spread about the mean and none passes the clear sky."""
    for kt in (0.2, 0.45, 0.7):
        days = ten_days(kt, 0.78)
        assert days.mean() == pytest.approx(kt)
        assert np.all(np.diff(days) > 0)
        assert days.max() < 0.95


def test_clear_days_are_mostly_beam_and_dull_days_diffuse():
    """Erbs, Klein and Duffie (1982): overcast near 1, clear near 0.15."""
    assert daily_diffuse_share(0.1, 90.0) > 0.95
    assert daily_diffuse_share(0.75, 90.0) == 0.175
    assert daily_diffuse_share(0.75, 75.0) == 0.143


@pytest.mark.parametrize(
    ("content", "form"), [(b"nothing like weather", "epw"), (b"a,b\n1,2\n", "tmy3"), (b"", "pvgis_tmy")]
)
def test_a_file_that_is_no_weather_is_named(tmp_path, content, form):
    path = tmp_path / "weather.csv"
    path.write_bytes(content)
    roof = replace(scene("d1_small_van"), weather=WeatherFile(str(path), form))
    with pytest.raises(SceneError, match=r"weather\.path"):
        daylight_for(roof)


def test_a_missing_file_is_named():
    roof = replace(scene("d1_small_van"), weather=WeatherFile(str(DATA / "none.epw"), "epw"))
    with pytest.raises(SceneError, match=r"weather\.path: cannot be read as epw"):
        daylight_for(roof)


def test_a_year_without_light_is_refused():
    noon = np.array([1_687_350_000.0 + 3600.0 * h for h in range(24)])
    dark = HourlyWeather(noon, *(np.zeros(24) for _ in range(6)), heat=Heat())
    with pytest.raises(SceneError, match="has no light"):
        daylight_for(replace(scene("d1_small_van"), weather=dark))


@pytest.mark.parametrize("name", YEARS)
def test_a_plain_file_reads_as_pvlib_reads_it(name):
    """The five typical years, against pvlib's own readers of EPW, TMY3 and PVGIS."""
    file, form, _ = YEARS[name]
    source = WeatherFile(str(DATA / file), form)
    raw = _unpacked(source)
    ours, theirs = plain_year(form, raw), _by_pvlib(source, raw)
    assert np.array_equal(ours.stamps_utc_s, theirs.stamps_utc_s)
    for column, values in theirs.columns.items():
        assert ours.columns[column] == pytest.approx(values, rel=1e-12)


def test_a_leap_day_and_a_missing_list_of_columns_change_nothing():
    """A typical February may be of a leap year; pvlib's reading of the file as published says the year."""
    source = WeatherFile(str(DATA / YEARS["piedmont"][0]), "pvgis_tmy")
    published = _unpacked(source)
    lines = published.splitlines(keepends=True)
    leap = next(n for n, line in enumerate(lines) if b"0301:0000" in line)
    end = next(n for n, line in enumerate(lines) if n > leap and not line.strip())
    odd = b"".join([*lines[:leap], b"20080229:0000" + lines[leap][13:], *lines[leap:end]])
    ours, theirs = plain_year("pvgis_tmy", odd), _by_pvlib(source, published)
    assert np.array_equal(ours.stamps_utc_s, theirs.stamps_utc_s)
    for column, values in theirs.columns.items():
        assert ours.columns[column] == pytest.approx(values, rel=1e-12)


def test_a_file_that_is_not_plain_is_left_to_pvlib():
    raw = _unpacked(WeatherFile(str(DATA / YEARS["phoenix"][0]), "tmy3"))
    changes = (
        (b"GHI (W/m^2)", b"GHI"),
        (b"01/01/2002,01:00", b"01/32/2002,01:00"),
        (b"01/01/2002,01:00", b"01/01/2002,01:30"),
        (b"01/01/2002,01:00", b"01/01/2002,03:00"),
        (b",0,0,0,2,", b",,,,2,"),
    )
    for known, odd in changes:
        assert plain_year("tmy3", raw.replace(known, odd, 1)) is None


def test_the_sky_of_perez_is_pvlibs():
    """Every clearness, sun from the horizon up, against pvlib.irradiance.perez on the flat and on a wall."""
    from pvlib import irradiance

    mesh = np.meshgrid([0, 20, 150, 500, 950], [30, 90, 400], np.arange(1.0, 90, 4))
    dni, dhi, elevation = (axis.ravel().astype(float) for axis in mesh)
    extra, zenith = np.full(len(dni), 1361.0), 90.0 - elevation
    around, band = perez_shares(elevation, dni, dhi, extra)
    rest = (dhi, dni, extra, zenith, 0.0, relative_airmass(elevation))
    flat = irradiance.perez(0.0, 180.0, *rest, return_components=True)
    wall = irradiance.perez(90.0, 180.0, *rest, return_components=True)
    assert around == pytest.approx(flat["poa_circumsolar"] / dhi, abs=1e-9)
    assert band == pytest.approx(wall["poa_horizon"] / dhi, abs=1e-9)
    assert len(np.unique(np.digitize((dhi + dni) / dhi, CLEARNESS))) == 8
