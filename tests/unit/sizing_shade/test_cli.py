"""The commands shade and lay: JSON on the output, one line and code 2 for a refused question."""

from __future__ import annotations

import json

import pytest

from sizing.shade.cli import run_lay, run_shade
from tests.shade_scenes import DATA, expected


@pytest.fixture
def small(tmp_path):
    """Return the path of a scene with two wirings, for speed."""
    facts = json.loads((DATA / "d1_small_van.json").read_text())
    facts["wirings"] = {name: facts["wirings"][name] for name in ("2s2p_cross", "4s")}
    path = tmp_path / "scene.json"
    path.write_text(json.dumps(facts))
    return path


def test_shade_prints_the_year_in_the_published_form(small, capsys):
    assert run_shade([str(small)]) == 0
    told = json.loads(capsys.readouterr().out)
    answer = expected("d1_small_van")
    assert told["headings_deg"] == answer["headings_deg"]
    assert told["ranking_by_mean"] == ["4s", "2s2p_cross"]
    for name, wiring in told["wirings"].items():
        for key, value in answer["wirings"][name].items():
            assert wiring[key] == pytest.approx(value, rel=0.01, abs=0.005), (name, key)
        assert len(wiring["monthly_kwh"]) == 12
        assert sum(wiring["monthly_kwh"]) == pytest.approx(wiring["mean_kwh"], rel=1e-6)
    assert told["panel_irradiation_loss_mean"].keys() == answer["panel_irradiation_loss_mean"].keys()
    assert told["findings"]
    assert all(finding["sentence"].endswith(".") for finding in told["findings"])


def test_shade_ranks_all_wirings_when_asked(small, capsys):
    assert run_shade([str(small), "--all-wirings", "--main", "4s"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["main_wiring"] == "4s"
    assert told["all_wirings"]["is_complete"]
    assert told["all_wirings"]["n_tried"] == 5


def test_shade_tells_one_moment(small, capsys):
    assert run_shade([str(small), "--moment", "2023-12-21T09:30", "--heading", "90"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert 0 < told["power_w"] < told["bare_power_w"]
    assert len(told["panels"]) == 4


def test_shade_works_out_every_hour_when_asked(small, capsys):
    assert run_shade([str(small), "--every-hour"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["method"] == "every hour"
    assert abs(told["wirings"]["4s"]["grid_off_mean"]) < 0.003


def test_lay_prints_a_layout_with_its_bound(small, capsys):
    assert run_lay([str(small), "--grid", "0.1", "--panels", "3"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told["layout"]["panels"]) == 3
    assert told["is_proved"]
    assert told["bound_kwh"] >= told["layout"]["score_kwh"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "arguments: the following arguments are required: scene"),
        (["nowhere.json"], 'file: there is no file "nowhere.json"'),
        (["SCENE", "--main", "9s"], "wirings: has none named '9s'"),
        (["SCENE", "--moment", "noon"], "when: must be a time like 2025-06-21T09:30"),
        (["SCENE", "--moment", "2023-06-21T12:00", "--heading", "500"], "heading_deg: must be 0 to 360"),
        (["SCENE", "--speed", "9"], "arguments: unrecognized arguments"),
    ],
)
def test_a_refused_question_is_one_line_and_code_2(small, capsys, arguments, words):
    assert run_shade([str(small) if a == "SCENE" else a for a in arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("error: ")
    assert words in said.err
    assert said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--grid", "0"], "lay.grid_m: must be 0.02 to 0.5 m, got 0"),
        (["--panels", "0"], "lay.panels_max: must be 1 to 60, got 0"),
        (["--seconds", "-1"], "lay.time_limit_s: must be 0.1 to 600 s"),
        (["--grid", "nan"], "lay.grid_m: must be a finite number (0.02 to 0.5 m), got nan"),
        (
            ["--rafters", "0.3,one"],
            "arguments: argument --rafters: needs numbers between commas, got '0.3,one'",
        ),
        (["--walkway", "0,1,2"], "argument --walkway: needs 4 numbers between commas"),
        (["--walkway", "0,1,2,1"], "lay.ways[0][0].y1: must be above 1 m, got 1 m"),
        (["--keep-out", "2,0,1,1"], "lay.keep_outs[0].x1: must be above 2 m, got 1 m"),
        (["--wire-cost", "2"], "lay.wire_cost_kwh_m: needs gland_x_m and gland_y_m"),
        (["--mass-cost", "2"], "lay.mass_cost_kwh_kg: needs mass_kg"),
        (["--mass", "12"], "argument --mass: needs a panel type and its weight, TYPE=KG, got '12'"),
        (["--mass", "P9=12"], "lay.mass_kg.P9: names no panel type of this scene"),
        (["--rafters", "2.9"], "roof: has no free place"),
    ],
)
def test_lay_refuses_rules_it_cannot_keep(small, capsys, arguments, words):
    assert run_lay([str(small), *arguments]) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("member", "value", "words"),
    [
        ("rafter_x_m", [1.0], "lay.rafter_x_m: is not known; known are grid_m,"),
        ("rafters_x_m", "1", 'lay.rafters_x_m: must be an array, got "1"'),
        ("rafters_x_m", [1.0, "x"], 'lay.rafters_x_m[1]: must be a number, -5 to 35 m, got "x"'),
        ("rafters_x_m", [0.1] * 61, "lay.rafters_x_m: must hold at most 60 rafters, got 61"),
        ("ways", [[{"x0": 0, "y0": 0, "x1": 1, "y1": 1, "z": 2}]], "lay.ways[0][0].z: is not known"),
        ("keep_outs", [{"x0": 0, "y0": 0, "x1": 1}], "lay.keep_outs[0].y1: is missing"),
        ("hole_cost_kwh", -1, "lay.hole_cost_kwh: must be 0 to 1000 kWh, got -1"),
        ("holes", {"P9": 4}, "lay.holes.P9: names no panel type"),
        ("holes", {"P9": 4.5}, "lay.holes.P9: must be a whole number"),
        ("clearance_m", {"mast": 0.1}, "lay.clearance_m.mast: names no roof object"),
        ("gland_x_m", 1.0, "lay.gland_y_m: is missing"),
        ("type_names", ["P9"], 'lay.type_names[0]: names no panel type: "P9"'),
        (
            "string_limits",
            {"series_min": 3, "series_max": 2},
            "lay.string_limits.series_max: must be at least",
        ),
        ("controller", {"v_min": 90, "v_max": 50}, "lay.controller.v_max: must be at least v_min"),
        ("keep_placed", 1, "lay.keep_placed: must be true or false"),
    ],
)
def test_lay_names_the_member_of_the_file_that_is_wrong(small, capsys, member, value, words):
    facts = json.loads(small.read_text())
    facts["lay"] = {member: value}
    small.write_text(json.dumps(facts))
    assert run_lay([str(small)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f"error: {words}" in said.err


def test_lay_refuses_rules_that_are_no_object(small, capsys):
    facts = json.loads(small.read_text())
    small.write_text(json.dumps({**facts, "lay": [1]}))
    assert run_lay([str(small)]) == 2
    assert "error: lay: must be an object" in capsys.readouterr().err


def laid(path, capsys, *arguments):
    """Return the layout of a scene as printed."""
    assert run_lay([str(path), "--grid", "0.1", "--panels", "2", *arguments]) == 0, capsys.readouterr().err
    return json.loads(capsys.readouterr().out)["layout"]


def test_lay_keeps_walkway_and_rafters_and_takes_penalties_off(small, capsys):
    facts = json.loads(small.read_text())
    del facts["panels"], facts["wirings"]  # a roof that nothing lies on yet
    kind = next(iter(facts["panel_types"]))
    facts["lay"] = {
        "ways": [[{"x0": 0, "y0": 0, "x1": facts["roof"]["length"], "y1": 0.5, "name": "way"}]],
        "controller": {"v_min": 15, "v_max": 150},
        "string_limits": {"series_max": 2},
        "mass_kg": {kind: 10},
        "holes": {kind: 6},
        "hole_cost_kwh": 99,
    }
    small.write_text(json.dumps(facts))
    far = facts["roof"]["length"] - 0.3
    asked = ["--hole-cost", "0.5", "--mass-cost", "0.2", "--wire-cost", "3", "--gland", f"{far},1"]
    found = laid(small, capsys, *asked)
    size = facts["panel_types"][kind]
    for item in found["panels"]:
        panel = item["panel"]
        along, across = (size["lx"], size["ly"]) if panel["rot_deg"] == 0 else (size["ly"], size["lx"])
        assert panel["y_m"] >= 0.5 - 1e-9
        away = abs(panel["x_m"] + along / 2 - far) + abs(panel["y_m"] + across / 2 - 1)
        assert item["penalty_kwh"] == pytest.approx(6 * 0.5 + 10 * 0.2 + 3 * away, abs=1e-3)  # by hand


def test_lay_stands_panels_on_two_rafters(small, capsys):
    rafters = (0.4, 1.3, 2.2)
    found = laid(small, capsys, "--rafters", ",".join(map(str, rafters)))
    sizes = json.loads(small.read_text())["panel_types"]
    for item in found["panels"]:
        panel = item["panel"]
        size = sizes[panel["type_name"]]
        long = size["lx"] if panel["rot_deg"] == 0 else size["ly"]
        under = [x for x in rafters if panel["x_m"] - 1e-6 <= x <= panel["x_m"] + long + 1e-6]
        assert len(under) >= 2


def test_shade_answers_rules_of_thumb(small, capsys):
    assert run_shade([str(small)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {found["kind"] for found in told["folk_rules"]} == {"folk"}


def test_help_is_not_an_error(capsys):
    assert run_shade(["--help"]) == 0
    assert "scene file" in capsys.readouterr().out
