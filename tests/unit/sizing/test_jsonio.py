"""Designs and results as JSON: exact round trips, and one clear sentence for anything else."""

from __future__ import annotations

import copy
import json

import pytest

import sizing
from sizing.core.checks import Verdict
from sizing.core.inputs import InputOutOfRange
from sizing.core.reading import MAX_JSON_BYTES, loads
from sizing.files.jsonio import (
    input_from_dict,
    input_to_dict,
    result_from_dict,
    result_to_dict,
)
from tests.designs import golden


@pytest.fixture
def data():
    return json.loads(json.dumps(input_to_dict(golden())))


def test_a_design_comes_back_equal(data):
    assert input_from_dict(data) == golden()
    assert input_to_dict(input_from_dict(data)) == data


def test_a_result_comes_back_equal():
    result = sizing.size_system(golden())
    text = json.dumps(result_to_dict(result), allow_nan=False)
    assert result_from_dict(json.loads(text)) == result
    assert json.dumps(result_to_dict(result_from_dict(json.loads(text)))) == text


def test_guesses_come_back_sorted(data):
    data["guesses"] = ["panels", "loads"]
    assert input_to_dict(input_from_dict(data))["guesses"] == ["loads", "panels"]


def test_a_smaller_design_may_leave_fields_out():
    bare = {"rule_set": "marine_105c", "v_nominal_v": 12, "tmin_travel_c": None, "tmin_storage_c": -5}
    assert input_from_dict(bare).tmin_storage_c == -5.0


BAD = [
    ("rule_set", "best", 'rule_set: must be one of "marine_105c"'),
    ("rule_set", 5, "rule_set: must be one of"),
    ("v_nominal_v", "12", 'v_nominal_v: must be one of 12, 24, 36, 48 V, got "12"'),
    ("v_nominal_v", True, "v_nominal_v: must be one of 12, 24, 36, 48 V, got true"),
    ("v_nominal_v", None, "v_nominal_v: must be one of 12, 24, 36, 48 V, got null"),
    (
        "v_nominal_v",
        10**400,
        "v_nominal_v: must be one of 12, 24, 36, 48 V, got a number of more than 30 digits",
    ),
    ("v_nominal_v", 13, "v_nominal_v: must be one of 12, 24, 36, 48 V, got 13"),
    ("glued_panels", 1, "glued_panels: must be true or false, got 1"),
    ("glued_panels", "yes", 'glued_panels: must be true or false, got "yes"'),
    ("design_month", 6.5, "design_month: must be a whole number, 1 to 12, got 6.5"),
    ("design_month", 13, "design_month: must be 1 to 12, got 13"),
    ("panels", {}, "panels: must be an array, got an object"),
    ("panels", "no", 'panels: must be an array, got "no"'),
    ("panels", [5], "panels[0]: must be an object, got 5"),
    ("panels", [[1, 2]], "panels[0]: must be an object, got an array of 2"),
    ("bank", [], "bank: must be an object, got an array of 0"),
    ("loads", [{}], "loads[0].name: is missing"),
    ("colour", "red", "colour: is not known; known are rule_set, v_nominal_v, "),
    ("guesses", 5, "guesses: must be an array, got 5"),
    ("weight", {"added": [["a"]]}, "weight.added[0]: must be an array of 2, got an array of 1"),
    ("weight", {"added": [["a", "b"]]}, 'weight.added[0][1]: must be a number, 0 to 25000 kg, got "b"'),
    ("weight", {"added": ["ab"]}, 'weight.added[0]: must be an array of 2, got "ab"'),
    ("weight", {"label_type": "xxx"}, 'weight.label_type: must be one of "occc", "ccc", got "xxx"'),
    ("k_sys", "0.75", 'k_sys: must be a number, above 0 and up to 1, got "0.75"'),
    ("tmax_c", 10**400, "tmax_c: must be -90 to 100 °C, got a number of more than 30 digits"),
    ("loads", [{"name": 5}], "loads[0].name: must be text, got 5"),
    ("k_sys", "x" * 100, "k_sys: must be a number, above 0 and up to 1, got"),
    ("design_month", 10**40, "design_month: must be 1 to 12"),
    ("glued_panels", 10**5000, "more than 30 digits"),
]


BAD += [
    ("guesses", ["\ud800"], 'guesses[0]: holds half of a character pair, which is no text: "\\ud800"'),
    ("design_month", "\udfff", 'design_month: must be a whole number, 1 to 12, got "\\udfff"'),
    ("\ud800", 1, "\\ud800: is not known"),
]


@pytest.mark.parametrize(("name", "value", "message"), BAD, ids=[f"{b[0]}-{i}" for i, b in enumerate(BAD)])
def test_it_names_what_is_wrong(data, name, value, message):
    data[name] = value
    with pytest.raises(InputOutOfRange) as refusal:
        input_from_dict(data)
    assert message in str(refusal.value)
    assert len(str(refusal.value)) < 400


def test_what_is_missing_is_named(data):
    del data["rule_set"]
    with pytest.raises(InputOutOfRange, match="rule_set: is missing"):
        input_from_dict(data)


def test_a_design_is_an_object():
    with pytest.raises(InputOutOfRange, match="design: must be an object, got an array of 0"):
        input_from_dict([])


def test_whole_numbers_may_be_written_as_floats(data):
    data["design_month"] = 6.0
    assert input_from_dict(data).design_month == 6
    assert isinstance(input_from_dict(data).design_month, int)


def test_tuples_and_frozensets_in_memory_are_read_too():
    given = input_to_dict(golden())
    given["guesses"] = frozenset({"loads"})
    given["legs"] = tuple(given["legs"])
    given["roof"] |= {"material": sizing.Bus.DC}  # an enum is text too
    found = input_from_dict(given)
    assert found.guesses == frozenset({"loads"})
    assert found.roof.material == "dc"


def test_terms_keep_words_and_numbers_apart():
    result = sizing.size_system(golden())
    copied = copy.deepcopy(result_to_dict(result))
    terms = [term for check in copied["checks"] for term in check["terms"]]
    assert {type(term["value"]) for term in terms} >= {float}
    assert result_from_dict(copied) == result


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"", "is not JSON"),
        (b"{", "is not JSON"),
        (b"\xff\xfe\x00\x01", "is not JSON"),
        (b"\x80abc", "must be JSON text in UTF-8"),
        (b'{"a": NaN}', "must hold finite numbers, got NaN"),
        (b'{"a": -Infinity}', "must hold finite numbers, got -Infinity"),
        (b'{"a": 1e999}', "must hold finite numbers, got 1e999"),
        (b'{"a": ' + b"9" * 5000 + b"}", "at most 30 digits, got 5000 digits"),
        (b"[" * 200_000, "is nested too deeply"),
        (b'{"a":' * 100_000, "is nested too deeply"),
        (b" " * (MAX_JSON_BYTES + 1), "must be at most 5000000 bytes"),
    ],
    ids=["empty", "cut", "utf16", "binary", "nan", "inf", "huge float", "huge int", "deep", "deep2", "large"],
)
def test_anything_else_is_one_sentence(text, message):
    with pytest.raises(InputOutOfRange, match=message):
        loads(text)


def test_a_name_written_twice_is_refused():
    with pytest.raises(InputOutOfRange, match='names "a" twice in one object, at x'):
        loads(b'{"x": {"a": 1, "b": 2, "a": 3}}')


def test_json_is_read():
    assert loads(b'{"a": [1, 2.5, null]}') == {"a": [1, 2.5, None]}


def test_an_answer_stored_before_equality_was_told_apart_still_reads():
    """What stood exactly at its limit was judged a pass then, and its bounds say so."""
    stored = result_to_dict(sizing.size_system(golden()))
    bounded = [row for row in stored["checks"] if row["bounds"]]
    assert bounded
    for row in bounded:
        del row["bounds"]["at_limit"]
    read = result_from_dict(stored)
    assert {check.bounds.at_limit for check in read.checks if check.bounds} == {Verdict.PASS}
