"""A tablet that is told to come again in some seconds does; longer waits and other faults are trouble."""

from __future__ import annotations

import pytest

from tests.js import needs_node, run_js

pytestmark = needs_node

SCRIPT = """
import { ask } from "./ask.js";
const waits = [];
globalThis.setTimeout = (then, ms) => (waits.push(ms), queueMicrotask(then));
Math.random = () => 0.5;
let asked = 0;
globalThis.fetch = async () => {
  const [status, after] = data[Math.min(asked++, data.length - 1)];
  return { status, ok: status < 300, headers: new Headers(after ? { "Retry-After": after } : {}) };
};
const { status, waited } = await ask("/jobs/1/events/", { method: "POST", body: {} });
answer({ status, waited, asked, waits });
"""


@pytest.mark.parametrize(
    ("told", "status", "asked", "waited"),
    [
        ([(503, "5"), (503, "3"), (200, "")], 200, 3, 8000),  # at a random of one half: as long as was told
        ([(200, "")], 200, 1, 0),
        ([(503, "300")], 503, 1, 0),
        ([(503, "")], 503, 1, 0),
        ([(507, "5")], 507, 1, 0),
        ([(503, "5")], 503, 20, 19 * 5000),
    ],
)
def test_it_comes_again_when_it_was_told_to(told, status, asked, waited):
    found = run_js(SCRIPT, told)
    assert (found["status"], found["asked"], found["waited"]) == (status, asked, waited)
