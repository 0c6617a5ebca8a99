"""Panels without shade against pvlib 0.16: single-diode curves, and a plain hourly chain over typical years.

Source: pvlib.singlediode.bishop88_mpp (Bishop 1988); the typical years listed beside their files. The chain
knows nothing of the engine: it reads the files with pvlib, takes the sun in the middle of the hour, and
multiplies nothing but pvlib's own answers.
"""

from __future__ import annotations

import gzip
from dataclasses import replace

import numpy as np
import pandas as pd
import pvlib
import pytest
from pvlib.singlediode import bishop88_mpp

from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.place import build_place
from sizing.shade.scene.chosen_wiring import own_wiring
from sizing.shade.sky.weather import daylight_for
from tests.shade_scenes import DATA, YEARS, array_power_w, in_weather, panel_type, scene

Q_K = 1.602176634e-19 / 1.380649e-23  # CODATA 2018


def pvlib_best_w(cell, n_series, n_parallel, light_w_m2, temp_c):
    """Return the best power of equal cells in series and parallel; same formulas, pvlib's solver."""
    t, t0 = np.asarray(temp_c) + 273.15, 298.15
    light = np.asarray(light_w_m2) / 1000 * (cell.light_current_a + cell.alpha_a_per_k * (t - t0))
    gap = 1.121 * (1 - 0.0002677 * (t - t0))
    dark = cell.saturation_current_a * (t / t0) ** 3 * np.exp(Q_K * (1.121 / t0 - gap / t))
    best = bishop88_mpp(
        light, dark, cell.series_ohm, cell.shunt_ohm, cell.ideality * t / Q_K,
        breakdown_factor=cell.breakdown_factor, breakdown_voltage=cell.breakdown_v,
        breakdown_exp=cell.breakdown_exp, method="newton",
    )  # fmt: skip
    return np.asarray(best[2]) * n_series * n_parallel


@pytest.mark.parametrize("light_w_m2", [30.0, 200.0, 800.0, 1100.0])
@pytest.mark.parametrize("temp_c", [-10.0, 25.0, 65.0])
@pytest.mark.parametrize("halves", [1, 2])
def test_the_best_power_is_that_of_pvlibs_single_diode(light_w_m2, temp_c, halves):
    kind = panel_type(nx=10, ny=6, n_bypass=3, halves=halves)
    ours = array_power_w(kind, [[0]], {}, beam_w_m2=light_w_m2, temp_cell_c=temp_c)
    theirs = pvlib_best_w(kind.cell, kind.n_series, halves, light_w_m2, temp_c)
    assert ours == pytest.approx(float(theirs), rel=3e-4)


def read_year(name):
    """Return a typical year with the sun in the middle of each hour, by pvlib alone."""
    file, form, site = YEARS[name]
    plain = DATA / file
    text = gzip.decompress(plain.read_bytes())
    return text, form, site


def frame_of(name, folder):
    text, form, site = read_year(name)
    path = folder / "year.csv"
    path.write_bytes(text)
    if form == "epw":
        frame, shift = pvlib.iotools.read_epw(path, coerce_year=2019)[0], pd.Timedelta(minutes=-30)
    elif form == "tmy3":
        frame, shift = pvlib.iotools.read_tmy3(path, coerce_year=2019)[0], pd.Timedelta(minutes=-30)
    else:
        frame, shift = pvlib.iotools.read_pvgis_tmy(path)[0], pd.Timedelta(hours=0.1761)
        frame.index = [stamp.replace(year=2019) for stamp in frame.index]
    frame.index = pd.DatetimeIndex(frame.index) + shift
    return frame, site


@pytest.mark.parametrize("name", sorted(YEARS))
def test_a_flat_year_is_that_of_a_plain_pvlib_chain(name, tmp_path):
    frame, site = frame_of(name, tmp_path)
    sun = pvlib.solarposition.get_solarposition(
        frame.index, site.latitude_deg, site.longitude_deg, altitude=site.altitude_m
    )
    up = (sun["apparent_elevation"] > 0).to_numpy()
    frame, sun = frame[up], sun[up]
    sine = np.sin(np.radians(sun["apparent_elevation"].to_numpy()))
    dni, dhi = frame["dni"].to_numpy(), frame["dhi"].to_numpy()
    beam = dni * sine * pvlib.iam.physical(90 - sun["apparent_elevation"].to_numpy())
    light = beam + 0.95 * dhi
    temp = frame["temp_air"].to_numpy() + (dni * sine + dhi) / (20 + 5 * frame["wind_speed"].to_numpy())
    kind = scene("d1_small_van").panel_types["P110"]
    chain = pvlib_best_w(kind.cell, kind.n_series, 1, np.maximum(light, 1e-3), temp).sum() / 1000

    roof = in_weather(scene("d1_small_van"), name)
    weather = replace(roof.weather, sky_model="isotropic")
    roof = replace(roof, weather=weather, panels=roof.panels[:1], obstructions=())
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof))
    year = wiring_year(place, cast_shadows(place, layout), own_wiring(layout.panel_ids))
    assert year.mean_kwh == pytest.approx(chain, rel=1.5e-3)
    assert year.mean_unshaded_kwh == pytest.approx(year.mean_kwh, rel=1e-4)
