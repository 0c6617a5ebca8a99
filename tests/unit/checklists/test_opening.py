"""Opening the install record: which steps appear for which design."""

from __future__ import annotations

from checklists.models import Checklist


def test_the_golden_job_gets_its_steps(checklist):
    steps = checklist.steps.filter(is_in_scope=True)
    by_code = {}
    for step in steps:
        by_code.setdefault(step.code, []).append(step.subject)
    assert checklist.scope == ["battery", "inverter", "panels", "screwed"]
    print({k: v for k, v in by_code.items()}, steps.count())
    assert by_code["D3"] == ["panel:1", "panel:2", "panel:3", "panel:4", "gland:box"]
    assert by_code["E8"] == ["string:1", "string:2"]
    assert by_code["F1"] == ["circuit:C1", "circuit:C2", "circuit:C3", "circuit:C10", "circuit:C11"]
