"""What may be called a pass, and how a number is set against its limit."""

from __future__ import annotations

import math

import pytest

from sizing.core.checks import Provenance, Verdict
from sizing.core.customary import show_both
from sizing.core.judge import (
    MEMORY_SENTENCE,
    QUOTED_ONCE_SENTENCE,
    QUOTED_SENTENCE,
    fact_check,
    is_within,
    limit_check,
    margin_fraction,
    missing_check,
    show,
    show_percent,
)

NAMED = {"rule": "F0", "key": "a/b", "subject": "a", "title": "Test", "source": "a book"}


def check(value, limit, **more):
    given = {**NAMED, "value": value, "limit": limit, "unit": "V", "provenance": Provenance.PRINTED, **more}
    return limit_check(**given)


@pytest.mark.parametrize(
    ("value", "limit", "more", "verdict"),
    [
        (1.0, 2.0, {}, Verdict.PASS),
        (2.0, 2.0, {}, Verdict.CAUTION),
        (2.0 + 1e-10, 2.0, {}, Verdict.CAUTION),
        (2.0, 2.0, {"at_limit": Verdict.PASS}, Verdict.PASS),
        (2.0, 2.0, {"at_least": True}, Verdict.CAUTION),
        (2.0, 2.0, {"at_limit": Verdict.PASS, "provenance": Provenance.MEMORY}, Verdict.CAUTION),
        (2.1, 2.0, {}, Verdict.BLOCK),
        (2.1, 2.0, {"beyond": Verdict.CAUTION}, Verdict.CAUTION),
        (2.1, 2.0, {"block_beyond": 2.2}, Verdict.CAUTION),
        (2.3, 2.0, {"block_beyond": 2.2}, Verdict.BLOCK),
        (1.0, 2.0, {"at_least": True}, Verdict.BLOCK),
        (3.0, 2.0, {"at_least": True}, Verdict.PASS),
        (1.5, 2.0, {"at_least": True, "block_beyond": 1.0}, Verdict.CAUTION),
        (0.5, 2.0, {"at_least": True, "block_beyond": 1.0}, Verdict.BLOCK),
    ],
)
def test_bands(value, limit, more, verdict):
    assert check(value, limit, **more).verdict is verdict


@pytest.mark.parametrize("broken", [None, math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("at_least", [False, True])
def test_missing_or_broken_numbers_never_pass(broken, at_least):
    for value, limit in ((broken, 1.0), (1.0, broken), (broken, broken)):
        found = check(value, limit, at_least=at_least)
        assert found.verdict is Verdict.NOT_ENOUGH_DATA
        assert found.margin is None
        assert "not enough data" in found.sentence
        assert found.value is None or math.isfinite(found.value)


@pytest.mark.parametrize("at_least", [False, True])
def test_exactly_at_a_limit_there_is_no_room(at_least):
    """A quantity at its limit is within it with margin 0: a caution that says so, in the pass's own words."""
    said = {Verdict.PASS: "It fits.", Verdict.CAUTION: "It is over."}
    found = check(40.0, 40.0, at_least=at_least, sentences=said, beyond=Verdict.CAUTION)
    assert (found.verdict, found.margin) == (Verdict.CAUTION, 0.0)
    assert found.sentence == "It fits. Exactly at the limit, no room."
    assert found.bounds is not None
    assert found.bounds.at_limit is Verdict.CAUTION
    met = check(40.0, 40.0, at_least=at_least, sentences=said, at_limit=Verdict.PASS)
    assert (met.verdict, met.margin, met.sentence) == (Verdict.PASS, 0.0, "It fits.")


def test_a_limit_from_memory_is_a_caution_that_says_so():
    found = check(1.0, 2.0, provenance=Provenance.MEMORY)
    assert found.verdict is Verdict.CAUTION
    assert "memory" in found.sentence
    assert check(3.0, 2.0, provenance=Provenance.MEMORY).verdict is Verdict.BLOCK


def test_words_by_verdict_win_over_the_general_ones():
    words = {Verdict.PASS: "fine"}
    assert check(1.0, 2.0, sentences=words, sentence="so so").sentence == "fine"
    assert check(3.0, 2.0, sentences=words, sentence="so so").sentence == "so so"
    assert check(3.0, 2.0).sentence == "Test: 3 V, limit 2 V."
    assert check(0.031, 0.03, unit="fraction").sentence == "Test: 3.1%, limit 3%."
    assert check(1.0, 2.0, at_least=True).sentence == "Test: 1 V, needs at least 2 V."


@pytest.mark.parametrize(
    ("is_met", "provenance", "verdict"),
    [
        (True, Provenance.PRINTED, Verdict.PASS),
        (True, Provenance.MEMORY, Verdict.CAUTION),
        (False, Provenance.PRINTED, Verdict.BLOCK),
        (None, Provenance.PRINTED, Verdict.NOT_ENOUGH_DATA),
    ],
)
def test_facts(is_met, provenance, verdict):
    found = fact_check(**NAMED, is_met=is_met, provenance=provenance)
    assert found.verdict is verdict
    assert found.sentence.startswith("Test: ")


def test_what_is_missing_is_named():
    found = missing_check(rule="F0", key="a/b", subject="a", title="Test", missing="the length")
    assert found.verdict is Verdict.NOT_ENOUGH_DATA
    assert "the length is not known" in found.sentence


def test_margin():
    assert margin_fraction(75.0, 100.0) == pytest.approx(0.25)
    assert margin_fraction(125.0, 100.0, at_least=True) == pytest.approx(0.25)
    assert margin_fraction(110.0, 100.0) == pytest.approx(-0.1)
    assert margin_fraction(1.0, 0.0) is None
    assert margin_fraction(None, 1.0) is None


def test_equal_is_within_both_ways():
    assert is_within(0.1 + 0.2, 0.3)
    assert is_within(0.3, 0.1 + 0.2, at_least=True)
    assert not is_within(0.31, 0.3)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "words"),
    [
        (12.50, "V", 2, "12.5 V"),
        (None, "V", 2, "–"),
        (math.nan, "", 2, "–"),
        (-0.001, "A", 2, "0 A"),
        (100.0, "", 0, "100"),
        (3.0, "A", 1, "3 A"),
    ],
)
def test_numbers_in_words(value, unit, digits, words):
    assert show(value, unit, digits) == words


@pytest.mark.parametrize(
    ("value", "unit", "digits", "words"),
    [
        (606.0, "N", 0, "‹606 N|136 lbf›"),
        (100.0, "kg", 1, "‹100 kg|220 lb›"),
        (-34.25, "kg", 2, "‹-34.25 kg|-75.5 lb›"),
        (6.096, "m", 2, "‹6.1 m|20 ft›"),
    ],
)
def test_quantities_in_both_units(value, unit, digits, words):
    """NIST SP 811 (2008), appendix B.8: 4.448 N/lbf, 0.4536 kg/lb, 0.3048 m/ft."""
    assert show_both(value, unit, digits) == words


def test_percent():
    assert show_percent(0.0227) == "2.27%"
    assert show_percent(None) == "–"


@pytest.mark.parametrize(
    ("provenance", "verdict", "said"),
    [
        (Provenance.PRINTED, Verdict.PASS, ""),
        (Provenance.QUOTED, Verdict.PASS, QUOTED_SENTENCE),
        (Provenance.QUOTED_ONCE, Verdict.CAUTION, QUOTED_ONCE_SENTENCE),
        (Provenance.MEMORY, Verdict.CAUTION, MEMORY_SENTENCE),
    ],
)
def test_a_pass_is_worth_what_its_source_is_worth(
    provenance: Provenance, verdict: Verdict, said: str
) -> None:
    number = limit_check(
        rule="F12", key="k", subject="s", title="t", value=1.0, limit=2.0, unit="A", source="x",
        provenance=provenance, sentence="Fits.",
    )  # fmt: skip
    fact = fact_check(
        rule="F12", key="k", subject="s", title="t", is_met=True, source="x",
        provenance=provenance, sentence="Fits.",
    )  # fmt: skip
    for found in (number, fact):
        assert found.verdict is verdict
        assert found.sentence == f"Fits. {said}".strip()


def test_an_answer_stored_when_printed_was_called_verified_still_reads() -> None:
    assert Provenance("verified") is Provenance.PRINTED
