"""Good and bad years: the band over years of weather, and which files of a folder stand for a place.

Quantiles of the values 1 to 5 by definition 7 of Hyndman and Fan (1996): 10 % at 1.4, 50 % at 3, 90 % at 4.6.
"""

from __future__ import annotations

import gzip
import json
from dataclasses import replace

import pytest

from sizing.shade.answers.band import year_band
from sizing.shade.cli import run_shade
from sizing.shade.scene.scene import ClearSky, SceneError, WeatherFile
from sizing.shade.sky.year_files import file_place, years_near
from tests.shade_scenes import DATA, YEARS, scene

PARIS, LONDON = (48.8566, 2.3522), (51.5074, -0.1278)  # 344 km apart: any gazetteer


@pytest.fixture
def one_panel():
    """Return a roof of one bare panel at one heading, so that a year is quick."""
    roof = scene("d1_small_van")
    return replace(roof, panels=roof.panels[:1], obstructions=(), wirings=(), headings_deg=(0.0,))


def test_the_band_is_made_of_quantiles_of_the_years(one_panel, monkeypatch):
    from sizing.shade.answers import band

    given = iter((3.0, 1.0, 5.0, 2.0, 4.0))

    class Year:
        main_wiring, mean_kwh = "w", property(lambda _: next(given))

        def wiring(self, name):
            return self

    monkeypatch.setattr(band, "shade_year", lambda *_, **__: Year())
    done = []
    found = year_band(one_panel, [one_panel.weather] * 5, progress=done.append)
    assert (found.p90_kwh, found.p50_kwh, found.p10_kwh) == pytest.approx((1.4, 3.0, 4.6))
    assert (found.n_years, found.wiring) == (5, "w")
    assert done == pytest.approx([0.2, 0.4, 0.6, 0.8, 1.0])
    assert found.to_json()["years_kwh"] == (3.0, 1.0, 5.0, 2.0, 4.0)


def test_more_beam_makes_the_better_years(one_panel):
    years = [ClearSky(linke_turbidity=3.0, beam_scale=scale) for scale in (0.5, 0.7, 0.9, 1.1, 1.3)]
    found = year_band(one_panel, years)
    assert list(found.years_kwh) == sorted(found.years_kwh)
    assert found.p90_kwh < found.p50_kwh < found.p10_kwh


def test_fewer_than_five_years_are_refused(one_panel):
    with pytest.raises(SceneError, match="at least 5 years of weather, got 4"):
        year_band(one_panel, [one_panel.weather] * 4)


@pytest.mark.parametrize(("name", "head"), [(file, (form, site)) for file, form, site in YEARS.values()])
def test_the_head_of_a_file_says_format_and_place(name, head):
    form, lat, lon = file_place(DATA / name)
    assert form == head[0]
    assert (lat, lon) == pytest.approx((head[1].latitude_deg, head[1].longitude_deg), abs=0.01)


def written(folder, name, head, packed=False):
    content = ("\n".join(head) + "\n").encode()
    (folder / name).write_bytes(gzip.compress(content) if packed else content)


def epw(lat, lon):
    return [f"LOCATION,Somewhere,-,-,-,0,{lat},{lon},0.0,10.0"]


def test_only_files_near_the_place_count(tmp_path):
    written(tmp_path, "b.epw", epw(48.9, 2.4))
    written(tmp_path, "a.epw.gz", epw(48.8, 2.3), packed=True)
    written(tmp_path, "london.epw", epw(*LONDON))
    written(tmp_path, "notes.txt", ["nothing to see"])
    written(tmp_path, "cut.epw", ["LOCATION,Somewhere"])
    (tmp_path / "broken.gz").write_bytes(b"\x1f\x8b not gzip")
    (tmp_path / "empty.csv").write_bytes(b"")
    found = years_near(str(tmp_path), *PARIS)
    assert [file.path.rpartition("/")[2] for file in found] == ["a.epw.gz", "b.epw"]
    assert found[0] == WeatherFile(str(tmp_path / "a.epw.gz"), "epw")
    assert len(years_near(str(tmp_path), *PARIS, within_km=345.0)) == 3
    assert len(years_near(str(tmp_path), *PARIS, within_km=342.0)) == 2


def test_a_folder_that_is_not_there_is_refused():
    with pytest.raises(SceneError, match="years: folder cannot be read"):
        years_near("/nowhere/at/all", *PARIS)


def test_the_command_prints_the_band(tmp_path, capsys):
    name, _, site = YEARS["miami"]
    folder = tmp_path / "years"
    folder.mkdir()
    lines = gzip.decompress((DATA / name).read_bytes()).decode().splitlines()
    first = 8 + 151 * 24  # four days of June are a year quick enough for a test
    for year in range(5):
        written(folder, f"{year}.epw", [*lines[:8], *lines[first : first + 96]])
    asked = json.loads((DATA / "d1_small_van.json").read_text())
    asked["location"] = {
        "lat": site.latitude_deg,
        "lon": site.longitude_deg,
        "altitude_m": site.altitude_m,
        "utc_offset_h": site.utc_offset_h,
    }
    asked["headings_deg"] = [0.0]
    file = tmp_path / "scene.json"
    file.write_text(json.dumps(asked))
    assert run_shade([str(file), "--years", str(folder)]) == 0
    band = json.loads(capsys.readouterr().out)["band"]
    assert band["n_years"] == 5
    assert band["p90_kwh"] == band["p10_kwh"] > 0.0  # five times the same year
    assert run_shade([str(file), "--years", str(tmp_path)]) == 2
    assert "at least 5 years" in capsys.readouterr().err
