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
        (["nowhere.json"], "nowhere.json: cannot be read"),
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
        (["--grid", "0"], "rules.grid_m: must be 0.02 to 0.5 m, got 0"),
        (["--panels", "0"], "rules.panels_max: must be 1 to 60, got 0"),
        (["--seconds", "-1"], "rules.time_limit_s: must be 0.1 to 600 s"),
    ],
)
def test_lay_refuses_rules_it_cannot_keep(small, capsys, arguments, words):
    assert run_lay([str(small), *arguments]) == 2
    assert words in capsys.readouterr().err


def test_help_is_not_an_error(capsys):
    assert run_shade(["--help"]) == 0
    assert "scene file" in capsys.readouterr().out
