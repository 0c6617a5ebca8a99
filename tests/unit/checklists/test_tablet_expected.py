"""What a field says the plan expects, in words: the keys of choices never show."""

from __future__ import annotations

import pytest

from tests.js import needs_node, run_js

EXPECTED = """
import { expected } from "./screens/field/expected.js";
const view = { job: { facts: { equipment: [
  { code: "C3", subject: "panel:1", model: "P200" }, { code: "C3", subject: "panel:2", model: "P160" },
] } } };
answer(data.map(([spec, mark]) => expected({
  view, step: { code: "C3", subject: "panel:2" }, spec: { choices: [], accept: [], ...spec }, mark,
}).join(" ")));
"""
SIZES = [["6", "6 AWG"], ["4", "4 AWG"], ["2", "2 AWG"]]
PLACES = [["good", "Clear of berths"], ["berth", "Over a berth"]]

#: A field as stored → what it must say; by hand from the labels above.
CASES = [
    ({"kind": "choice", "choices": SIZES, "expected": "4"}, None, "Expected 4 AWG"),
    ({"kind": "choice", "choices": SIZES, "expected": "4"}, {"expected": "2"}, "Expected 2 AWG"),
    ({"kind": "choice", "choices": PLACES, "accept": ["good"]}, None, "Expected Clear of berths"),
    ({"kind": "choice", "choices": SIZES, "accept": ["4", "2"]}, None, "Accepted 4 AWG or 2 AWG"),
    ({"kind": "choice", "choices": PLACES}, None, "Accepted "),
    ({"kind": "text", "expected": "4A7Q19"}, None, "Expected 4A7Q19"),
    ({"kind": "text"}, None, "Expected "),
    ({"kind": "serial"}, None, "Planned part P160"),
]


@needs_node
@pytest.mark.parametrize("cases", [CASES])
def test_a_field_says_what_the_plan_expects_in_its_own_words(cases):
    said = run_js(EXPECTED, [[spec, mark] for spec, mark, _ in cases])
    assert said == [words for _, _, words in cases]
