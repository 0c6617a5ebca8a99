"""Hours and loads on the tablet against the server's own, on the same random events in random order."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from typing import Any

from checklists.rules.clocks import ClockEvent, overlaps, spans_of
from checklists.rules.loads import loads_of
from checklists.rules.reducer import Event
from tests.js import needs_node, run_js

NOON = dt.datetime(2026, 11, 25, 12, 0, tzinfo=dt.UTC)
CLOCKS = """
import { hoursOf, isAsked, overlaps, spansOf } from "./rules/clocks.js";
answer(data.cases.map((events) => {
  const spans = spansOf(events);
  const shared = overlaps(spans, data.now).map((both) => both.map((span) => span.id));
  const told = spans.map((span) => ({
    ...span, hours: hoursOf(span, data.now), isAsked: isAsked(span, data.now),
  }));
  return { spans: told, shared };
}));
"""
LOADS = """
import { loadsOf } from "./rules/loads.js";
answer(data.map((events) => {
  const { loaded, shortages } = loadsOf(events);
  const values = Object.entries(loaded).map(([key, own]) => [key, [...own.values].sort()]);
  return [Object.fromEntries(values), shortages.map((one) => [one.key, one.missing, [...one.ids].sort()])];
}));
"""


def _id(rng: random.Random) -> str:
    return str(uuid.UUID(int=rng.getrandbits(128)))


def clock_events(rng: random.Random) -> list[dict[str, Any]]:
    """Return what people might have done with clocks: started, stopped, put right, taken back."""
    events: list[dict[str, Any]] = []

    def add(verb: str, field: str = "", value: Any = None, **more: Any) -> dict[str, Any]:
        at = NOON + dt.timedelta(minutes=rng.randint(-500, 500))
        made = {"id": _id(rng), "step": None, "verb": verb, "field": field, "value": value, "job": 1}
        events.append(
            made | {"done_at": at.isoformat(), "cause": "", "by_name": "Lena", "undoes": None} | more
        )
        return events[-1]

    for _ in range(rng.randint(1, 7)):
        who = rng.choice([1, 2])
        begun = add("start", rng.choice("DEF"), {"who": who, "name": f"P{who}"})
        for _ in range(rng.choice([0, 1, 1, 2])):
            add("stop", value={"start": begun["id"]})
        times = {"from": NOON.isoformat(), "to": (NOON + dt.timedelta(hours=rng.randint(0, 9))).isoformat()}
        if rng.random() < 0.3:
            add("correct", rng.choice(["", "H"]), {"start": begun["id"]} | times, cause="forgot")
        if rng.random() < 0.1:
            add("correct", "K", {"who": who, "name": f"P{who}"} | times, cause="flat")
        if rng.random() < 0.1:
            add("undo", undoes=rng.choice(events)["id"])
        if rng.random() < 0.1:  # its start has not arrived
            add("stop", value={"start": _id(rng)})
            add("correct", "", {"start": _id(rng)} | times, cause="forgot")
    rng.shuffle(events)
    return [*events, *events[:2]]


def as_clock(event: dict[str, Any]) -> ClockEvent:
    return ClockEvent(
        uuid.UUID(event["id"]), event["verb"], dt.datetime.fromisoformat(event["done_at"]), event["field"],
        event["value"], uuid.UUID(event["undoes"]) if event["undoes"] else None, event["cause"],
        event["by_name"], event["job"],
    )  # fmt: skip


def ms(moment: dt.datetime | None) -> int | None:
    return None if moment is None else round(moment.timestamp() * 1000)


@needs_node
def test_hours_are_the_same_on_both_sides():
    rng = random.Random(5)
    cases = [clock_events(rng) for _ in range(600)]
    now = NOON + dt.timedelta(hours=9)
    seen = 0
    shared = 0
    for events, told in zip(cases, run_js(CLOCKS, {"cases": cases, "now": ms(now)}), strict=True):
        got, wanted = told["spans"], spans_of(as_clock(event) for event in events)
        over = [[str(span.id) for span in both] for both in overlaps(wanted, now)]
        assert told["shared"] == over
        shared += len(over)
        assert [one["id"] for one in got] == [str(span.id) for span in wanted]
        for one, span in zip(got, wanted, strict=True):
            ran = None if span.ran is None else [ms(each) for each in span.ran]
            assert (one["who"], one["name"], one["phase"]) == (span.who, span.name, span.phase)
            assert (one["start"], one["end"], one["ran"]) == (ms(span.start), ms(span.end), ran)
            assert (one["endedBy"], one["reason"]) == (span.ended_by, span.reason)
            assert abs(one["hours"] - span.hours(now)) < 1e-6
            assert one["isAsked"] == span.is_asked(now)
            seen += 1
    assert seen > 1500
    assert shared > 100


def load_events(rng: random.Random) -> list[dict[str, Any]]:
    events: list[dict[str, Any]] = []
    for _ in range(rng.randint(1, 12)):
        verb, key = rng.choice(["load", "short"]), rng.choice(["screws", "part:1"])
        value: Any = rng.randint(0, 3)
        if verb == "short":
            value = {"missing": value, "note": rng.choice(["", "box empty"])}
        before = [event["id"] for event in events if event["verb"] == verb and event["field"] == key]
        seen = rng.sample(before, rng.randint(0, len(before)))
        events.append(
            {"id": _id(rng), "step": None, "verb": verb, "field": key, "value": value, "replaces": seen,
             "undoes": None, "by_name": "Bob"}
        )  # fmt: skip
        if rng.random() < 0.15:
            events.append(
                {"id": _id(rng), "step": None, "verb": "undo", "field": "", "value": None, "replaces": [],
                 "undoes": events[-1]["id"], "by_name": "Bob"}
            )  # fmt: skip
    rng.shuffle(events)
    return events


def as_load(event: dict[str, Any]) -> Event:
    return Event(
        uuid.UUID(event["id"]), 0, event["verb"], event["field"], event["value"],
        undoes=uuid.UUID(event["undoes"]) if event["undoes"] else None,
        replaces=frozenset(map(uuid.UUID, event["replaces"])), by_name=event["by_name"],
    )  # fmt: skip


@needs_node
def test_loads_are_the_same_on_both_sides():
    rng = random.Random(6)
    cases = [load_events(rng) for _ in range(600)]
    for events, (loaded, shortages) in zip(cases, run_js(LOADS, cases), strict=True):
        wanted = loads_of(as_load(event) for event in events)
        assert loaded == {key: sorted(own.values) for key, own in wanted.loaded.items()}
        assert shortages == [
            [one.key, one.missing, sorted(map(str, one.ids))] for one in wanted.open_shortages
        ]


@needs_node
def test_a_time_not_sent_yet_is_put_right_by_the_offset_measured_here():
    script = 'import { doneAt } from "./rules/clocks.js"; answer(data.map((event) => doneAt(event, 60000)));'
    at = "2026-11-25T12:00:00.000Z"
    got = run_js(script, [{"at": at}, {"at": at, "done_at": "2026-11-25T12:03:00+00:00"}])
    assert got == [ms(NOON + dt.timedelta(minutes=1)), ms(NOON + dt.timedelta(minutes=3))]
