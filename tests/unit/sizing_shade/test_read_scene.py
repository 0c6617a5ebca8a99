"""Scene files: what is read, and that every refusal names the JSON path, the limit and the unit."""

from __future__ import annotations

import copy
import json

import pytest

from sizing.shade.scene.read_scene import scene_from_file, scene_from_json
from sizing.shade.scene.scene import (
    ClimateGrid,
    MonthlyClimate,
    ObstructionKind,
    SceneError,
    SkyModel,
    TrackerKind,
    WeatherFile,
)
from tests.shade_scenes import DATA


@pytest.fixture
def facts():
    return json.loads((DATA / "d1_small_van.json").read_text())


def test_a_scene_is_read_with_its_units(facts):
    roof = scene_from_json(facts)
    assert (roof.roof.len_x_m, roof.roof.len_y_m) == (5.2, 1.9)
    assert [panel.id for panel in roof.panels] == ["A", "B", "C", "D"]
    assert roof.obstructions[2].kind == ObstructionKind.DOME
    assert roof.obstructions[2].name == "dome 3"
    assert roof.wirings[5].controllers[0].v_min_v == 17.5
    assert roof.weather.sky_model == SkyModel.ISOTROPIC
    assert len(roof.headings_deg) == 24


def test_weathers_are_told_apart(facts):
    facts["weather"] = {"model": "file", "path": "x.epw", "format": "epw"}
    assert isinstance(scene_from_json(facts).weather, WeatherFile)
    facts["weather"] = {"model": "climate_grid"}
    assert isinstance(scene_from_json(facts).weather, ClimateGrid)
    facts["weather"] = {
        "model": "monthly",
        "ghi_kwh_m2_day": [3.0] * 12,
        "t_min_c": [0.0] * 12,
        "t_max_c": [10] * 12,
    }
    assert isinstance(scene_from_json(facts).weather, MonthlyClimate)


def test_kinds_of_controllers_are_read(facts):
    facts["wirings"] = {
        "p": {"controllers": [{"type": "pwm", "v_pwm": 13.2, "strings": [["A"]]}]},
        "h": {
            "controllers": [{"type": "mppt_high_v", "v_start": 20, "blocking": True, "strings": [["A", "B"]]}]
        },
    }
    pwm, high = (w.controllers[0] for w in scene_from_json(facts).wirings)
    assert (pwm.kind, pwm.v_pwm_v) == (TrackerKind.PWM, 13.2)
    assert (high.kind, high.v_start_v, high.is_blocking) == (TrackerKind.MPPT_HIGH_V, 20.0, True)


def put(facts, path, value):
    """Return a copy with one fact changed; a value of ... removes it."""
    changed = copy.deepcopy(facts)
    here = changed
    for key in path[:-1]:
        here = here[key]
    if value is ...:
        del here[path[-1]]
    else:
        here[path[-1]] = value
    return changed


REFUSALS = [
    (("roof",), ..., "roof: is missing"),
    (("roof", "length"), -1, "roof.length: must be above 0 and up to 30 m, got -1"),
    (("roof", "width"), "two", 'roof.width: must be a number, above 0 and up to 5 m, got "two"'),
    (("roof", "width"), True, "roof.width: must be a number, above 0 and up to 5 m, got true"),
    (("roof", "width"), float("nan"), "roof.width"),
    (("location", "lat"), 91, "location.lat: must be -90 to 90 °, got 91"),
    (
        ("location", "utc_offset_h"),
        -6.5,
        "location.utc_offset_h: must be a whole number, -12 to 14, got -6.5",
    ),
    (("weather", "model"), "guess", "weather.model: must be one of"),
    (("weather", "linke_turbidity"), ..., "weather.linke_turbidity: is missing"),
    (("panel_types", "P110", "nx"), 0, "panel_types.P110.nx: must be 1 to 400"),
    (
        ("panel_types", "P110", "n_bypass"),
        3,
        "panel_types.P110.n_bypass: must divide the 4 rows evenly, got 3",
    ),
    (
        ("panel_types", "P110", "halves"),
        2,
        "panel_types.P110.halves: needs an even number of columns, got nx = 9",
    ),
    (("panel_types", "P110", "margin"), 0.3, "panel_types.P110.margin: leaves no room for cells"),
    (("panel_types", "P110", "cell", "Rsh"), 0, "panel_types.P110.cell.Rsh: must be 0.1 to 1e+07 Ω, got 0"),
    (("panels", 1, "type"), "P999", 'panels[1].type: must be one of "P110", got "P999"'),
    (("panels", 1, "id"), "A", 'panels[1].id: is used twice: "A"'),
    (("panels", 2, "rot"), 45, "panels[2].rot: must be one of 0, 90 °, got 45"),
    (("panels",), [], "panels: must hold 1 to 60 panels, got 0"),
    (("panels",), {}, "panels: must be an array, got an object"),
    (
        ("obstructions", 0, "kind"),
        "tree",
        'obstructions[0].kind: must be one of "box", "cylinder", "dome", got "tree"',
    ),
    (("obstructions", 2, "r"), 0, "obstructions[2].r: must be above 0 and up to 15 m, got 0"),
    (("wirings", "4s", "controllers"), [], "wirings.4s.controllers: must hold 1 to 60 controllers, got 0"),
    (
        ("wirings", "4s", "controllers", 0, "strings"),
        [["A", "Z"]],
        'wirings.4s.controllers[0].strings[0][1]: names no panel of this scene: "Z"',
    ),
    (
        ("wirings", "4s", "controllers", 0, "strings"),
        [["A"], ["A"]],
        'wirings.4s.controllers[0].strings[1][0]: panel "A" is already wired',
    ),
    (("wirings", "4s", "controllers", 0, "strings"), [[]], "strings[0]: must hold 1 to 60 panels, got 0"),
    (("wirings", "4s", "controllers", 0, "v_max"), 3, "v_max: must be at least v_min (16 V), got 3 V"),
    (("wirings", "4s", "controllers", 0, "type"), "pwm", "controllers[0].v_pwm: is missing"),
    (("headings_deg",), [400], "headings_deg[0]: must be 0 to 360 °, got 400"),
    (("headings_deg",), [], "headings_deg: must hold 1 to 72 headings, got 0"),
    (("parking",), {"pitch_deg": 40}, "parking.pitch_deg: must be -20 to 20 °, got 40"),
    (("parking",), 5, "parking: must be an object, got 5"),
    (
        ("panels", 0, "tilt"),
        30,
        "panels[0].tilt: is not known; known are id, type, x, y, z, rot, tilt_deg, hinge",
    ),
    (("weather", "wind"), 3, "weather.wind: is not known; known are "),
    (("obstructions", 0, "lx"), None, "obstructions[0].lx: is missing"),
    (("obstructions", 2, "r"), ..., "obstructions[2].r: is missing"),
    (("wirings", "4s", "controllers", 0, "strings"), ..., "wirings.4s.controllers[0].strings: is missing"),
    (
        ("panels", 0, "id"),
        "\ud800",
        'panels[0].id: holds half of a character pair, which is no text: "\\ud800"',
    ),
    (("wirings", "\udfff"), {"controllers": [{"strings": [["A"]]}]}, 'no text: "\\udfff"'),
    (("name",), "a\ud800", 'name: holds half of a character pair, which is no text: "a\\ud800"'),
    (
        ("panel_types",),
        {str(i): 5 for i in range(2001)},
        "panel_types: must hold at most 2000 names, got 2001",
    ),
    (("\ud800",), 1, "\\ud800: is not known"),
]


@pytest.mark.parametrize(("path", "value", "message"), REFUSALS, ids=lambda part: str(part)[:50])
def test_a_wrong_fact_is_named_by_its_path(facts, path, value, message):
    with pytest.raises(SceneError) as caught:
        scene_from_json(put(facts, path, value))
    assert message in str(caught.value)


def test_what_an_obstruction_does_not_use_is_not_looked_at(facts):
    """A dome has no length and a box no radius: other tools write them as 0."""
    facts["obstructions"][2] |= {"lx": 0, "ly": 0, "yaw_deg": "none"}
    facts["obstructions"][0]["r"] = 0
    told = scene_from_json(facts).obstructions
    assert (told[2].lx_m, told[2].yaw_deg, told[0].r_m) == (0.0, 0.0, 0.0)


def test_null_counts_as_left_out(facts):
    facts["panels"][0] |= {"tilt_deg": None, "hinge": None}
    facts["headings_deg"] = facts["parking"] = facts["weather"]["u0"] = None
    told = scene_from_json(facts)
    assert (told.panels[0].tilt_deg, len(told.headings_deg), told.weather.heat.u0_w_m2k) == (0.0, 24, 20.0)


@pytest.mark.parametrize("rubbish", [None, 3, [], "scene", {"panel_types": 4}])
def test_rubbish_is_refused_by_name(rubbish):
    with pytest.raises(SceneError):
        scene_from_json(rubbish)


def test_too_many_cells_are_refused(facts):
    facts["panel_types"]["P110"] |= {"nx": 20, "ny": 20}
    facts["panels"] = [{"id": str(i), "type": "P110", "x": 0.0, "y": 0.0, "z": 0.06} for i in range(11)]
    facts["wirings"] = {}
    with pytest.raises(SceneError, match="panels: may hold at most 4000 cells"):
        scene_from_json(facts)


def test_a_file_that_is_not_there_or_not_json_is_named(tmp_path):
    with pytest.raises(SceneError, match=r"file: there is no file .*missing\.json"):
        scene_from_file(tmp_path / "missing.json")
    (tmp_path / "bad.json").write_text("{")
    with pytest.raises(SceneError, match=r"bad\.json: is not JSON: .* at line 1, column 2"):
        scene_from_file(tmp_path / "bad.json")
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SceneError, match=r"binary\.json: must be JSON text in UTF-8"):
        scene_from_file(tmp_path / "binary.json")
    with pytest.raises(SceneError, match="is a folder, not a file"):
        scene_from_file(tmp_path)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is not JSON"),
        (b'{"roof": {}', "is not JSON"),
        (b'{"roof": 1, "roof": 2}', 'names "roof" twice in one object'),
        (b'{"roof": NaN}', "must hold finite numbers, got NaN, at roof"),
        (b'{"panels": [{"x": 1}, {"x": 1e999}]}', "finite numbers, got 1e999, at panels[1].x"),
        (b'{"roof": {"length": 1, "length": 2}}', 'names "length" twice in one object, at roof'),
        (b'{"roof": 1e999}', "must hold finite numbers, got 1e999"),
        (b'{"roof": ' + b"9" * 5000 + b"}", "at most 30 digits, got 5000 digits"),
        (b"[" * 100_000, "is nested too deeply"),
        (b'{"lay": ' + b"[" * 5000 + b"]" * 5000 + b"}", "roof: is missing"),
        (b'{"name": "\\ud800"}', "is missing"),
    ],
)
def test_any_file_is_a_scene_or_refused_in_one_line(tmp_path, content, words):
    path = tmp_path / "scene.json"
    path.write_bytes(content)
    with pytest.raises(SceneError) as caught:
        scene_from_file(path)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
