"""What stands exactly at a limit, read from the tables by server and tablet alike."""

from __future__ import annotations

import pytest

from checklists.tables.read import Reader
from tests.js import needs_node, run_js

#: How a verdict comes about, value and limit, and the verdict: at the limit is a caution, a table made before
#: that was told apart still reads as it did, and a limit that is met at equality is met.
CASES = [
    ("rule|0|block|0|caution", 40.0, 40.0, "caution"),
    ("rule|0|block|0|caution", 39.0, 40.0, "pass"),
    ("rule|0|block|0|caution", 41.0, 40.0, "block"),
    ("rule|1|block|0|caution", 40.0, 40.0, "caution"),
    ("rule|1|block|0|caution", 41.0, 40.0, "pass"),
    ("rule|0|block|0|pass", 40.0, 40.0, "pass"),
    ("rule|0|block|1|pass", 40.0, 40.0, "caution"),
    ("rule|0|block|0", 40.0, 40.0, "pass"),
]
SCRIPT = """
import { Reader } from "./tables/reader.js";
answer(data.map((tables) => new Reader({ checks: [tables], axes: [], lines: [] }, {}).check(tables)));
"""


def tables(sig, value, limit):
    words = {"key": "bank/charge_sum", "title": "Sum", "unit": "A"}
    return {**words, "sig": sig, "value": value, "limit": limit, "block": None}


@pytest.mark.parametrize(("sig", "value", "limit", "verdict"), CASES)
def test_server(sig, value, limit, verdict):
    asked = tables(sig, value, limit)
    assert Reader({"checks": [asked], "axes": [], "lines": []}, {}).check(asked)[0] == verdict


@needs_node
def test_tablet():
    got = run_js(SCRIPT, [tables(*case[:3]) for case in CASES])
    assert [check["verdict"] for check in got] == [case[3] for case in CASES]
    assert got[0]["sentence"] == "Sum: 40 A, limit 40 A. Exactly at the limit, no room."
    assert got[1]["sentence"] == "Sum: 39 A, limit 40 A."
