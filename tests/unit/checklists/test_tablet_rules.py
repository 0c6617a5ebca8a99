"""Marks, locks, seals and readings on the tablet against the server's own, on the same random work."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest

from checklists.record.read import cautions_of, work_of
from checklists.rules.fields import FieldSpec
from checklists.rules.judging import photo_words
from checklists.tables.run import job_of, tables_for
from jobs.engine.stored import result_of
from tests.js import needs_node, run_js
from tests.unit.checklists import tablet_job as told

SCRIPT = """
import { judgeStep } from "./rules/judging.js";
import { Holds } from "./rules/holds.js";
import { sealCount } from "./rules/seals.js";
import { deviationsNow } from "./rules/as_built.js";
import { changesAfter, withoutStale } from "./rules/after_go.js";
const out = data.cases.map(({ state, more, order }) => {
  const job = { ...data.job, ...more };
  const whole = new Map(state);
  const places = new Map(order.map((id, place) => [id, place]));
  const rewired = changesAfter(job, whole, places);
  const map = withoutStale(job, whole, places);
  const ctx = { job, state: map, whole, rewired };
  const holds = new Holds(ctx);
  const marks = {};
  for (const step of job.steps.filter((each) => each.is_in_scope)) {
    const mark = judgeStep(step, map.get(step.pk), ctx);
    const list = (f) => [f.mark, f.sentence, f.low, f.high, f.expected];
    const fields = Object.entries(mark.fields).map(([name, f]) => [name, list(f)]);
    marks[step.pk] = [mark.mark, Object.fromEntries(fields)];
  }
  const told = new Set(deviationsNow(job, map).map((each) => each.sentence));
  const items = (hold) =>
    hold.items.filter((i) => !told.has(i.sentence)).map((i) => `${i.step.pk}: ${i.sentence}`);
  const seals = sealCount(job, map);
  return {
    marks,
    rewired: rewired.length,
    locks: Object.fromEntries(holds.inScope.map((step) => [step.pk, holds.locks(step)])),
    phases: Object.fromEntries(holds.letters.map((letter) => [letter, holds.phaseLocks(letter)])),
    seals: [seals.sentences, seals.verdict, seals.made],
    holds: Object.fromEntries(holds.all().map((hold) => [hold.step.code, items(hold)])),
    covered: Object.fromEntries(holds.all().map((hold) => [hold.step.code, hold.covered.length])),
    blocking: deviationsNow(job, map).filter((each) => each.blocks).map((each) => each.title).sort(),
    asked: deviationsNow(job, map).filter((each) => each.kind === "unknown").map((each) => each.title),
  };
});
answer(out);
"""


@pytest.fixture(params=["1", "2"])
def office(request: Any, opened: Any, now: Any) -> tuple[told.Office, dict[str, Any]]:
    """Return the server's rules on the golden install, and the job as a tablet takes it along."""
    checklist = opened(request.param)
    steps = list(checklist.steps.all())
    work = work_of(checklist)
    install = work.install
    before = result_of(checklist.run).checks
    sums = tables_for(checklist, clock=lambda: now)
    rules = told.Office(install, job_of(checklist), before)
    return rules, told.payload(steps, install, sums, cautions_of(install, work.run))


def compared(office: told.Office, job: dict[str, Any], count: int, seed: int) -> int:
    """Compare the two on so many installs; return how many marks were set side by side."""
    rng = random.Random(seed)
    cases, wanted = [], []
    for _ in range(count):
        events = told.random_events(office.infos, rng, rng.choice([0.2, 0.6, 0.9, 0.98]))
        events = told.rewired(office.infos, events, rng)
        install = office.judged(events)
        more = told.random_more(office.infos, rng, install)
        if more:
            install = office.judged(events, **more)
        order = [str(event.id) for event in events]
        cases.append({"state": told.to_state(install.states), "more": as_payload(more), "order": order})
        wanted.append(told.answer_of(install) | {"rewired": len(install.rewired)})
    seen = unknown = 0
    assert any(want["rewired"] for want in wanted)
    for got, want in zip(run_js(SCRIPT, {"job": job, "cases": cases}), wanted, strict=True):
        if got["asked"]:  # of a check beyond the tables the tablet keeps what the office last knew
            drop_cautions(got)
            drop_cautions(want)
        for pk, (mark, fields) in want["marks"].items():
            assert got["marks"][pk][1].keys() == fields.keys()
            for name, field in fields.items():
                assert is_same(got["marks"][pk][1][name], field), (pk, name, got["marks"][pk][1][name], field)
                seen += 1
            assert got["marks"][pk][0] == mark
        is_beyond = (
            want["blocking"] != got["blocking"]
        )  # then the office locks for what the tablet asks about
        assert got["rewired"] == want["rewired"]
        for part in ("seals", "covered") if is_beyond else ("seals", "locks", "phases", "covered"):
            assert got[part] == want[part], part
        blocking = [title for title in want["blocking"] if title not in got["asked"]]
        assert got["blocking"] == blocking  # what is beyond the tables says so, it is never passed
        unknown += blocking != want["blocking"]  # one count beyond the tables asks about all that lean on it
        assert {code: sorted(items) for code, items in got["holds"].items()} == want["holds"]
    assert unknown < count / 10
    return seen


def drop_cautions(said: dict[str, Any]) -> None:
    """Leave out the circuits to accept at the go; the go itself stays shut, as the tablet has to ask."""
    for mark in said["marks"].values():
        mark[1] = {name: each for name, each in mark[1].items() if not name.startswith("caution_")}
    for code, items in said["holds"].items():
        said["holds"][code] = [words for words in items if ": Accept C" not in words]


def as_payload(more: dict[str, Any]) -> dict[str, Any]:
    """Return overrides and change orders as a tablet takes them along."""
    return {
        "overrides": [
            {"step": each.step, "by_name": each.by_name, "reason": each.reason, "covers": sorted(each.covers)}
            for each in more.get("overrides", ())
        ],
        "waiting_changes": [
            {"number": each.number, "locked_phases": list(each.locked_phases)}
            for each in more.get("waiting_changes", ())
        ],
    }


def is_same(one: Any, other: Any) -> bool:
    """Return whether two marks are the same: words exactly, numbers to a millionth."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(is_same, one, other))
    if isinstance(one, bool) or isinstance(other, bool) or isinstance(one, str) or isinstance(other, str):
        return bool(one == other)
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)


COUNTED = [  # photos there, asked for, whether they must be, what a technician reads
    (0, 1, True, "0 of 1 photo"),
    (1, 1, True, "1 of 1 photo"),
    (1, 2, True, "1 of 2 photos"),
    (2, 1, True, "2 photos, 1 asked for"),
    (60, 1, False, "60 photos, 1 asked for"),
    (0, 1, False, "0 of 1 photo, if any"),
    (1, 2, False, "1 of 2 photos"),
]
COUNT = """
import { photoWords } from "./rules/judging.js";
answer(data.map(([have, count, required]) => photoWords({ count, required }, have)));
"""


@needs_node
def test_tablet_and_office_say_alike_how_many_photos_there_are():
    specs = [FieldSpec("p", "photo", "P", count=count, required=must) for _, count, must, _ in COUNTED]
    office = [photo_words(spec, have) for spec, (have, *_) in zip(specs, COUNTED, strict=True)]
    assert run_js(COUNT, COUNTED) == office == [words for *_, words in COUNTED]


@needs_node
def test_the_tablet_marks_and_locks_as_the_office_does(office):
    """20 installs of random work, some 5,500 fields: marks, sentences, bands, locks, holds, seals."""
    assert compared(*office, count=20, seed=18) > 4_000


@needs_node
@pytest.mark.full
@pytest.mark.parametrize("piece", range(10))
def test_the_tablet_marks_and_locks_as_the_office_does_at_length(office, piece):
    """1,500 installs of random work in ten pieces of some minutes each."""
    assert compared(*office, count=150, seed=20 + piece) > 30_000
