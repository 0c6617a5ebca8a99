"""Every design of the demo, as a careful shop would hand it over, leaves at most six lines to decide."""

from __future__ import annotations

import pytest
from django.core.management import call_command

import sizing
from config.demo.shop import JOB_IN_WORK, SHOP_NAME, bring_to_life
from jobs.design.page import answer_for
from jobs.models import Design, Job

pytestmark = pytest.mark.django_db

MOST_LINES = 6


@pytest.fixture
def answers(db):
    call_command("loaddata", "demo_shop", verbosity=0)
    bring_to_life()
    designs = Design.objects.filter(job__shop__name=SHOP_NAME).order_by("job__number", "number")
    return {design.job.number: answer_for(design) for design in designs}


def test_the_job_in_work_has_nothing_left_to_decide(answers):
    """Its lengths are measured, its devices chosen; the one verdict left was looked at by the owner."""
    attention = answers[JOB_IN_WORK].attention
    assert attention.lines == ()
    assert [one.check.key for one in attention.noted] == ["energy/array_margin"]


def test_at_most_six_lines_each_and_nothing_lost(answers):
    assert set(answers) == set(Job.objects.filter(designs__isnull=False).values_list("number", flat=True))
    assert len(answers) == 5
    counts = {number: len(answer.attention.lines) for number, answer in answers.items()}
    assert max(counts.values()) <= MOST_LINES, counts
    for answer in answers.values():
        open_keys = {one.key for one in answer.result.checks if one.verdict is not sizing.Verdict.PASS}
        shown = {one.key for line in answer.attention.lines for one in line.group.members}
        assert shown | {one.check.key for one in answer.attention.noted} == open_keys
