"""Blocks of a design before its quote goes out: one line a cause, every sentence in it."""

from __future__ import annotations

import dataclasses

import pytest

import sizing
from jobs.engine.stored import latest_run
from jobs.engine.system import result_to_json
from jobs.quote.checks import send_check
from jobs.quote.draft import quote_create
from tests.quotes import nothing_missing

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(golden_job, alice, now):
    from jobs.design.revision import design_size

    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    return nothing_missing(quote_create(design=design, actor=alice, at=now), alice, now)


def test_devices_blocked_for_one_fault_are_one_line(quote):
    run = latest_run(quote.design)
    result = sizing.result_from_dict(run.result)
    blocked = tuple(
        dataclasses.replace(one, verdict=sizing.Verdict.BLOCK, sentence="It may burst.")
        if one.key in {"circuit:C3/interrupting", "circuit:C11/interrupting"}
        else one
        for one in result.checks
    )
    run.result = result_to_json(dataclasses.replace(result, checks=blocked))
    (line,) = send_check(quote, run).for_owner
    assert (
        line == "The design is blocked: Interrupting rating of 2 fuses or breakers. C3 and C11: It may burst."
    )
