"""Verdicts and their order."""

from __future__ import annotations

import pytest

from sizing.core.checks import Provenance, Verdict, worst
from sizing.core.judge import missing_check


@pytest.fixture
def unknown():
    return missing_check(rule="F0", key="a/b", subject="a", title="Test", missing="all of it")


def test_nothing_judged_is_not_enough_data():
    assert worst(()) is Verdict.NOT_ENOUGH_DATA


def test_the_worst_rules(unknown):
    assert worst((unknown,)) is Verdict.NOT_ENOUGH_DATA
    assert sorted(Verdict, key=lambda each: each.severity) == [
        Verdict.PASS,
        Verdict.CAUTION,
        Verdict.NOT_ENOUGH_DATA,
        Verdict.BLOCK,
    ]


def test_words(unknown):
    assert Verdict.NOT_ENOUGH_DATA.label == "not enough data"
    assert Provenance.COMMON_PRACTICE.label == "common practice"
    assert not unknown.blocks
