"""The rows a customer signs for: the tablet makes of a whole job's events what the server makes of them."""

from __future__ import annotations

import json
import uuid

import pytest

from checklists.record.events import events_record
from checklists.record.missed import events_after
from checklists.record.read import work_of
from checklists.rules.entries import Entry
from checklists.rules.hand_over import recorded_rows
from checklists.tablet.download import job_download
from tests.js import needs_node, run_js
from tests.unit.checklists.walk import complete

pytestmark = [pytest.mark.django_db, needs_node]

ROWS = """
import { reduceEvents, sinceDesign } from "./rules/reducer.js";
import { recordedRows } from "./rules/hand_over.js";
import { withoutStale } from "./rules/after_go.js";
import { places } from "./rules/work_order.js";
answer(data.map(({ job, events }) => {
  const since = new Map(job.steps.map((step) => [step.pk, step.since_design]));
  const whole = [...reduceEvents(events.filter((event) => event.step))];
  const own = new Map(whole.map(([pk, one]) => [pk, since.get(pk) ? sinceDesign(one, since.get(pk)) : one]));
  return recordedRows(job, withoutStale(job, own, places(events)));
}));
"""


def told(checklist):
    """Return the rows of the tablet and those of the server."""
    taken = {"job": job_download(checklist), "events": events_after(checklist, 0)["events"]}
    (found,) = run_js(ROWS, json.loads(json.dumps([taken], default=str)))
    return found, recorded_rows(work_of(checklist).install)


def more(checklist, actor, now, role, **entry):
    install = work_of(checklist).install
    step = next(step for step in install.in_scope if step.role == role)
    made = Entry(id=uuid.uuid4(), step=step.pk, **entry)
    events_record(checklist=checklist, entries=[made], actor=actor, at=now)
    return made


@pytest.mark.parametrize("version", ["1", "2"])
def test_a_whole_job_gives_the_same_rows(opened, alice, now, version):
    """Every kind of field of the list stands, accepted circuits and lines read among them."""
    checklist = opened(version)
    complete(checklist, alice, now)
    tablet, server = told(checklist)
    assert tablet == server
    kinds = {spec.kind for step in work_of(checklist).install.in_scope for spec in step.specs}
    if version == "2":
        assert {"signature", "lines", "several", "choice", "number", "photo"} <= kinds
        assert any(row[2].startswith("Accept C") for row in server)
        assert any(row[3].startswith("i:") for row in server)


def test_what_was_changed_noted_and_taken_back_gives_the_same_rows(second_list, alice, bob, now):
    """Two values that never saw each other, a drawn signature, a note, an undo, wiring after the Go."""
    complete(second_list, alice, now)
    add = lambda role, actor=alice, **entry: more(second_list, actor, now, role, **entry)  # noqa: E731
    add("custody", field="signed", value={"name": "Zoë 李", "ink": "M0 0L1000 300"})
    add("right_vehicle", verb="note", value="Ding at the left corner\nwas there before")
    slip = add("battery_before", actor=bob, field="rest_v", value=12.25)
    add("battery_before", verb="undo", undoes=slip.id)
    add("works_before", field="not_working", value="brakes,pump")
    add("runs_secured", field="secured", value=lines_of(second_list, "runs_secured"))
    tablet, server = told(second_list)
    assert tablet == server
    assert not any(row[:3] == ["I5", "Go", "Go"] for row in server)


def lines_of(checklist, role):
    step = next(step for step in work_of(checklist).install.in_scope if step.role == role)
    return ",".join(key for key, _ in next(spec for spec in step.specs if spec.kind == "lines").lines)
