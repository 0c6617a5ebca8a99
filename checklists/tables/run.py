"""Makes the tables of a job: once a question, in the background when an install begins."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.tasks import task
from django.utils import timezone

from checklists.models import Checklist, SumsTable
from checklists.record.deviations import CHANGED_BY, NEVER_ACCEPTED
from checklists.rules.fields import FieldSpec, spec_from_json
from checklists.tables.build import TABLES_VERSION, tables
from checklists.tables.parts import Job, Reported
from common.told import in_english
from jobs.engine.as_built import fitted_sizes
from jobs.engine.stored import result_of
from jobs.engine.system import input_to_json, question_of

Clock = Callable[[], datetime]

#: More feet than this on one job are a typing slip. [-]
_MOST_FEET = 500.0


@task(queue_name="papers")
def tables_task(checklist_pk: int) -> None:
    """Make the tables of one job in the background worker."""
    checklist = Checklist.objects.select_related("run", "design").filter(pk=checklist_pk).first()
    if checklist is not None:
        tables_for(checklist, clock=timezone.now)


@in_english
def tables_for(checklist: Checklist, *, clock: Clock) -> dict[str, Any]:
    """Return the tables of a job: as stored while the question is the same, else made anew (seconds)."""
    job = job_of(checklist)
    made_for = _fingerprint(job, checklist)
    stored = SumsTable.objects.filter(checklist=checklist).first()
    if stored is not None and stored.made_for == made_for:
        return dict(stored.body)
    body = {"rules": rules()} | tables(job, result_of(checklist.run).checks)
    SumsTable.objects.update_or_create(
        checklist=checklist, defaults={"made_for": made_for, "body": body, "made_at": clock()}
    )
    return body


def rules() -> dict[str, Any]:
    """Return how deviations are told, as the office tells them."""
    return {"never_accepted": list(NEVER_ACCEPTED), "changed_by": dict(CHANGED_BY)}


def tables_kept(checklist: Checklist) -> dict[str, Any] | None:
    """Return the tables as stored; None while they are not made, or made for another question."""
    stored = SumsTable.objects.filter(checklist=checklist).first()
    if stored is None or stored.made_for != _fingerprint(job_of(checklist), checklist):
        return None
    return dict(stored.body)


def job_of(checklist: Checklist) -> Job:
    """Return the plan of a job and the names under which its steps report values as built."""
    facts = checklist.facts
    return Job(
        planned=question_of(checklist.run),
        names=names_of(checklist),
        fitted=fitted_sizes(result_of(checklist.run)),
        plan_counts=(facts.get("ns"), facts.get("np")),
    )


def names_of(checklist: Checklist) -> dict[str, Reported]:
    """Return what may be reported under each name, as the steps in scope ask for it."""
    found: dict[str, Reported] = {}
    for step in checklist.steps.all():
        for data in step.fields if step.is_in_scope else ():
            spec = spec_from_json(data)
            if spec.feeds and spec.feeds not in found:
                found[spec.feeds] = _reported(spec)
    return found


def _reported(spec: FieldSpec) -> Reported:
    if spec.feeds_map is not None:
        return Reported(tuple(dict.fromkeys(spec.feeds_map.values())))
    if spec.choices:
        return Reported(tuple(value for value, _ in spec.choices))
    low, high = (spec.min or 0.0) * spec.feeds_scale, (spec.max or 0.0) * spec.feeds_scale
    return Reported(low=low, high=_MOST_FEET if spec.feeds_as == "sum" else high, is_whole=spec.whole)


def _fingerprint(job: Job, checklist: Checklist) -> str:
    """Return one hash of all the tables rest on: plan, names, accepted answer, form and engine."""
    question: Mapping[str, Any] = {
        "version": TABLES_VERSION,
        "run": checklist.run_id,
        "engine": checklist.run.engine_version,
        "planned": input_to_json(job.planned),
        "names": {name: repr(found) for name, found in job.names.items()},
    }
    return hashlib.sha256(json.dumps(question, sort_keys=True).encode()).hexdigest()
