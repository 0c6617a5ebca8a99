"""What a device is called before anybody names it.

User agents as browsers send them: a browser on an iPad that asks for desktop pages says Macintosh, and only
its touch points tell (WebKit's note on desktop-class browsing, 2019; the rest from memory).
"""

from __future__ import annotations

import pytest

from tests.js import needs_node, run_js

pytestmark = needs_node

MAC = "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Version/17.4 Safari/605.1.15"
KINDS = [
    (MAC, 5, "iPad"),
    (MAC, 0, "Mac"),
    ("Mozilla/5.0 (iPad; CPU OS 12_2 like Mac OS X) AppleWebKit/605.1.15", 5, "iPad"),
    ("Mozilla/5.0 (iPhone; CPU iPhone OS 17_4 like Mac OS X) AppleWebKit/605.1.15", 5, "iPhone"),
    (
        "Mozilla/5.0 (Linux; Android 13; SM-X200) AppleWebKit/537.36 Chrome/120 Safari/537.36",
        5,
        "Android tablet",
    ),
    (
        "Mozilla/5.0 (Linux; Android 13) AppleWebKit/537.36 Chrome/120 Mobile Safari/537.36",
        5,
        "Android phone",
    ),
    ("Mozilla/5.0 (Android 13; Tablet; rv:140.0) Gecko/140.0 Firefox/140.0", 5, "Android tablet"),
    ("Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 Chrome/120", 10, "Chromebook"),
    ("Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/120", 10, "Windows tablet"),
    (
        "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0",
        0,
        "Windows computer",
    ),
    ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", 0, "Linux computer"),
    ("", 0, "Computer"),
    ("", 1, "Tablet"),
]


def test_a_device_says_what_it_is():
    script = 'import { deviceKind } from "./device_kind.js"; answer(data.map(deviceKind));'
    asked = [{"userAgent": agent, "maxTouchPoints": points} for agent, points, _ in KINDS]
    assert run_js(script, asked) == [kind for *_, kind in KINDS]


@pytest.mark.parametrize("where", ["clock right", "clock unknown"])
def test_photos_stand_in_the_order_they_were_taken(where):
    """Ids are made by chance; the order is that of the work, by the clock put right where it was measured."""
    from checklists.rules.reducer import as_done
    from tests.unit.checklists.test_tablet_mirrors import python_event

    at = "received_at" if where == "clock unknown" else "done_at"
    base = {"step": 1, "verb": "record", "field": "a", "value": None, "undoes": None, "replaces": [],
            "design_number": 1, "photo": "00000000-0000-0000-0000-000000000001"}  # fmt: skip
    events = [
        base | {"id": f"{letter}0000000-0000-0000-0000-000000000000", at: f"2026-11-25T10:{minute}:00+00:00"}
        for letter, minute in (("a", 30), ("b", 10), ("c", 20), ("d", 10))
    ]
    script = 'import { asDone } from "./rules/reducer.js"; answer(asDone(data).map(({ id }) => id[0]));'
    assert run_js(script, events) == ["b", "d", "c", "a"]

    import dataclasses
    import datetime as dt

    rows = [
        dataclasses.replace(python_event(event), **{at: dt.datetime.fromisoformat(event[at])})
        for event in events
    ]
    assert [str(row.id)[0] for row in as_done(rows)] == ["b", "d", "c", "a"]
