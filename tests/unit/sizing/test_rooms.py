"""A room asked alone says what the whole answer says; nothing is lost between the rooms."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from tests.designs import golden


@pytest.fixture(scope="module")
def whole():
    design = golden()
    return design, sizing.size_system(design)


def test_rooms_and_circuits_together_are_the_whole_answer(whole):
    design, result = whole
    units = sizing.controller_results(design)
    assert units == result.controllers
    judged = [sizing.judge_circuit(design, circuit, units) for circuit in design.circuits]
    assert tuple(row for row, _ in judged) == result.circuits
    alone = [check for part in sizing.Part for check in sizing.part_checks(design, part)]
    alone += [check for _, checks in judged for check in checks]
    assert sorted(alone, key=lambda check: check.key) == sorted(result.checks, key=lambda check: check.key)


def test_there_is_no_other_room(whole):
    with pytest.raises(ValueError, match="cellar"):
        sizing.part_checks(whole[0], "cellar")


def test_a_question_that_cannot_be_put_says_why(whole):
    assert sizing.problem_with(whole[0]) == ""
    assert sizing.problem_with(replace(whole[0], autonomy_days=-1.0)).startswith(
        "autonomy_days: must be 0 to 60"
    )
