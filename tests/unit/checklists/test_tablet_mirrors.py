"""What the tablet works out by itself against what the server does, on thousands of inputs made by chance.

The Python side is the expectation: both must say the same of every set of events, in every order.
"""

from __future__ import annotations

import json
import random
import shutil
import uuid
from functools import cache
from typing import Any

import pytest

from checklists.rules.entries import EntryRefused, checked_value
from checklists.rules.fields import spec_from_json
from checklists.rules.hand_over import bits
from checklists.rules.reducer import Event, StepState, canonical, reduce_events
from tests.js import ROOT, needs_node, run_js

SCRIPTS = ROOT / "static" / "js" / "tablet"
VALUES = [True, 7, 7.0, 7.5, -0.0, 0, 0.1 + 0.2, 1e-7, 1e21, 123456789.125, "7", "", "é½", "a\nb", None]
VALUES += [{"name": "Ann", "ink": ""}, {"ink": "M0 0L1 1", "name": "Ann"}]
FIELDS = ["a", "b", "foot_1"]

pytestmark = needs_node


def random_events(luck: random.Random) -> list[dict[str, Any]]:
    """Return a set of events that undo, replace and contradict one another, rings and repeats included."""
    ids = [str(uuid.UUID(int=luck.getrandbits(128))) for _ in range(luck.randint(1, 12))]
    events = []
    for name in ids:
        verb = luck.choices(["record", "undo", "note", "safety"], [8, 2, 1, 1])[0]
        is_photo = verb == "record" and luck.random() < 0.15
        events.append(
            {
                "id": name,
                "step": luck.randint(1, 2),
                "verb": verb,
                "field": luck.choice(FIELDS) if verb == "record" else "",
                "value": None if is_photo or verb == "undo" else luck.choice(VALUES),
                "photo": str(uuid.UUID(int=luck.randint(1, 3))) if is_photo else None,
                "undoes": luck.choice(ids) if verb == "undo" else None,
                "replaces": luck.sample(ids, luck.randint(0, min(3, len(ids)))) if verb == "record" else [],
                "design_number": luck.randint(1, 4),
            }
        )
    events += luck.sample(events, luck.randint(0, len(events) // 2))
    luck.shuffle(events)
    return events


def python_event(data: dict[str, Any]) -> Event:
    """Return an event as the server's reducer reads it."""
    return Event(
        id=uuid.UUID(data["id"]),
        step=data["step"],
        verb=data["verb"],
        field=data["field"],
        value=data["value"],
        photo=uuid.UUID(data["photo"]) if data["photo"] else None,
        undoes=uuid.UUID(data["undoes"]) if data["undoes"] else None,
        replaces=frozenset(uuid.UUID(name) for name in data["replaces"]),
        design_number=data["design_number"],
    )


def told(state: StepState) -> dict[str, Any]:
    """Return a step's state in plain values."""
    return {
        "fields": {
            name: {
                "standing": [str(event.id) for event in own.standing],
                "values": [canonical(value) for value in own.values],
                "photos": [str(photo) for photo in own.photos],
                "isConflict": own.is_conflict,
                "isNone": own.value is None,
                "redoCount": own.redo_count,
                "bits": [bits(event) for event in own.standing],
            }
            for name, own in sorted(state.fields.items())
        },
        "notes": [str(event.id) for event in state.notes],
        "acks": [str(event.id) for event in state.acks],
    }


TELL = """
import { canonical, reduceEvents, sinceDesign } from "./rules/reducer.js";
import { bits } from "./rules/hand_over.js";
const field = ({ standing, values, value, photos, isConflict, redoCount }) => ({
  standing: standing.map((event) => event.id), values: values.map(canonical), photos, isConflict,
  isNone: value === null, redoCount, bits: standing.map(bits),
});
const told = (state) => ({
  fields: Object.fromEntries(Object.entries(state.fields).map(([name, own]) => [name, field(own)])),
  notes: state.notes.map((event) => event.id), acks: state.acks.map((event) => event.id),
});
answer(data.map(({ events, design }) => {
  const whole = [...reduceEvents(events)].sort(([a], [b]) => a - b);
  const since = whole.map(([pk, state]) => [pk, told(sinceDesign(state, design))]);
  return { whole: whole.map(([pk, state]) => [pk, told(state)]), since };
}));
"""


def as_floats(found: Any) -> Any:
    """Return the answer with every number written as a float, so that ``7`` and ``7.0`` are one text."""
    if isinstance(found, dict):
        return {
            key: [repr(float(text)) if text[:1] in "-0123456789" else text for text in value]
            if key == "values"
            else as_floats(value)
            for key, value in found.items()
        }
    return [as_floats(value) for value in found] if isinstance(found, list) else found


@cache
def cases_and_answers() -> tuple[list[Any], list[Any]]:
    """Return random sets of events with what the server's reducer makes of them.

    So many that even the rarest fault is met by ten of them: a ring, a value replaced by way of another.
    """
    luck = random.Random(20260614)
    cases = [{"events": random_events(luck), "design": luck.randint(1, 4)} for _ in range(1500)]
    answers = []
    for case in cases:
        states = reduce_events(python_event(event) for event in case["events"])
        whole = [[pk, told(state)] for pk, state in states.items()]
        since = [[pk, told(state.since(case["design"]))] for pk, state in states.items()]
        answers.append(as_floats(json.loads(json.dumps({"whole": whole, "since": since}))))
    return cases, answers


def test_the_tablets_reducer_says_what_the_servers_says():
    cases, answers = cases_and_answers()
    found = run_js(TELL, cases)
    for case, js, python in zip(cases, found, answers, strict=True):
        assert as_floats(js) == python, case


@pytest.mark.parametrize(
    ("sound", "broken"),
    [
        ("!undone.has(event.id));\n  const byId", "true);\n  const byId"),
        ("!covered.has(event.id)", "true"),
        ("if (live.length && !standing.length) standing = live;", ""),
        ("(one.id < other.id ? -1 : 1)", "(one.id < other.id ? 1 : -1)"),
        (">= design", "> design"),
        ("if (byId.has(name)) waiting.push([from, byId.get(name).replaces ?? []]);", ""),
    ],
)
def test_a_broken_reducer_is_found_out(tmp_path, sound, broken):
    cases, answers = cases_and_answers()
    copied = shutil.copytree(SCRIPTS, tmp_path / "tablet")
    reducer = copied / "rules" / "reducer.js"
    text = reducer.read_text()
    assert sound in text
    reducer.write_text(text.replace(sound, broken))
    found = run_js(TELL, cases, folder=copied)
    assert sum(as_floats(js) != python for js, python in zip(found, answers, strict=True)) >= 10


INK = "M0 0L1000 300M5 5L6 5"
SIGNED = [
    {"name": "Ann Reed", "ink": INK},
    {"name": "Zoë 李", "ink": ""},
    {"name": "Ann", "ink": "M1001 0L1 1"},
    {"name": "Ann", "ink": "M0 0L1 301"},
    {"name": "Ann", "ink": "M0 0"},
    {"name": "Ann", "ink": "m0 0L1 1"},
    {"name": "Ann", "ink": 'M0 0L1 1"/><script>'},
    {"name": "Ann", "ink": "M0 0L1 1\n"},
    {"name": " Ann", "ink": ""},
    {"name": "", "ink": INK},
    {"name": "A\x07", "ink": ""},
    {"name": "x" * 151, "ink": ""},
    {"name": "😀" * 150, "ink": ""},
    {"name": "A\u2028B", "ink": ""},
    {"name": "A\u00a0B", "ink": ""},
    {"name": "A", "ink": "", "more": 1},
    {"name": 7, "ink": ""},
    {"name": "A", "ink": "M0 0" + "L1 1" * 14_999},
    {"name": "A", "ink": "M0 0" + "L1 1" * 15_000},
    ["Ann", ""],
    None,
    True,
]  # fmt: skip

SPECS = [
    {"name": "n", "kind": "number", "label": "N", "unit": "V", "min": 0, "max": 70},
    {"name": "w", "kind": "number", "label": "W", "whole": True, "min": -3, "max": 20},
    {"name": "c", "kind": "choice", "label": "C", "choices": [["on", "On"], ["off", "Off"]]},
    {"name": "s", "kind": "serial", "label": "S"},
    {"name": "t", "kind": "text", "label": "T", "max_length": 12},
    {"name": "d", "kind": "text", "label": "D", "format": "date"},
    {"name": "m", "kind": "text", "label": "M", "format": "month"},
    {"name": "i", "kind": "signature", "label": "I"},
    {"name": "l", "kind": "lines", "label": "L", "lines": [["on", "On"], ["off", "Off"], ["a", "A"]]},
    {
        "name": "o",
        "kind": "lines",
        "label": "O",
        "lines": [["on", "On"], ["off", "Off"], ["a", "A"]],
        "ordered": True,
    },
    {"name": "v", "kind": "several", "label": "V", "choices": [["on", "On"], ["off", "Off"]]},
]
TYPED = [
    0, 7, 7.5, -3, -4, 70, 70.1, 1e9, "on", "off", "none", "", "  ", "a", "x" * 12, "x" * 13, "x" * 61,
    "é" * 12, "2027-02-28", "2027-02-29", "2028-02-29", "2027-13-01", "1989-01-01", "2101-01-01", "2027-06",
    "on,off", "on,off,a", "off,a", "on,a", "off,on", "on,on", "on,", ",on", "none,on", "on,none", "on,b",
    "2027-00", "27-06", "\x07bell", "😀" * 12, "😀" * 13,
    *SIGNED,
]  # fmt: skip


TAKEN = """
import { checked } from "./rules/entries.js";
answer(data.map(([spec, value]) => checked({ units: {} }, spec, value).value ?? null));
"""


def test_the_tablet_takes_what_the_server_takes():
    cases = [[spec, value] for spec in SPECS for value in TYPED]
    found = run_js(TAKEN, cases)
    for (spec, value), js in zip(cases, found, strict=True):
        if spec["kind"] in {"text", "serial"} and not isinstance(value, str):
            continue  # an input of words cannot hold a number
        try:
            python = checked_value(spec_from_json(spec), value)
        except EntryRefused:
            python = None
        assert js == python, (spec, value)
