"""Recording at a step: once each, all or none, judged at once."""

from __future__ import annotations

import uuid

import pytest

from checklists.entries import Entry
from checklists.models import Deviation, StepEvent
from checklists.services.recording import RecordRefused, events_record


def step(checklist, code, subject=""):
    return checklist.steps.get(code=code, subject=subject)


def entry(checklist, code, name, value, subject="", **more):
    return Entry(id=uuid.uuid4(), step=step(checklist, code, subject).pk, field=name, value=value, **more)


def test_a_longer_run_and_a_thinner_wire_raise_a_deviation(checklist, bob, now):
    entries = [
        entry(checklist, "F1", "run_len_m", 12.4, "circuit:C2"),
        entry(checklist, "F2", "size", "12", "circuit:C2"),
    ]
    done = events_record(checklist=checklist, entries=entries, actor=bob, at=now)
    for d in done.deviations:
        print(
            d.check_key, d.planned_value, d.as_built_value, d.as_built_verdict, d.sentence, d.options, d.step
        )
    assert done.deviations
    assert events_record(checklist=checklist, entries=entries, actor=bob, at=now).new == ()
    assert StepEvent.objects.count() == 2
