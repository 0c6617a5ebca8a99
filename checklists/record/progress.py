"""Moves the job's state along with the install: in work at the first record, commissioning after the go."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from checklists.plan.roles import Role
from checklists.record.read import Work
from jobs.customers.job import job_move, next_states
from jobs.models import Job
from jobs.shop.actor import Actor

S = Job.State
#: The states in the order of the work; what comes before (the deposit) is the office's to record.
_ORDER: Final = (
    S.DEPOSIT_PAID,
    S.PARTS_ORDERED,
    S.READY,
    S.PAUSED,
    S.IN_WORK,
    S.COMMISSIONING,
    S.CURE_WAIT,
    S.RELEASED,
)
_ROADS: Final = {
    S.IN_WORK: (S.IN_WORK,),
    S.COMMISSIONING: (S.IN_WORK, S.COMMISSIONING),
    S.CURE_WAIT: (S.IN_WORK, S.COMMISSIONING, S.CURE_WAIT),
    S.RELEASED: (S.IN_WORK, S.COMMISSIONING, S.RELEASED),
}


def job_follows(*, work: Work, actor: Actor, at: datetime) -> None:
    """Move the job as far as the record shows it is; never back, never past what the office does first."""
    passed = {hold.step.role: hold.is_passed for hold in work.holds.all()}
    wanted = S.IN_WORK
    if passed.get(Role.GO):
        wanted = S.COMMISSIONING
        if passed.get(Role.READINGS_PASS) and passed.get(Role.RELEASE) is False:
            wanted = S.CURE_WAIT
    job_walk(job=work.checklist.job, to=wanted, actor=actor, at=at)


def job_walk(*, job: Job, to: Job.State, actor: Actor, at: datetime) -> Job:
    """Move the job along the road of the work up to ``to``; stop where the road is closed."""
    for state in _ROADS[to]:
        if job.state in _ORDER and _ORDER.index(S(job.state)) < _ORDER.index(state):
            if state not in next_states(job):
                break
            job = job_move(job=job, to=state, actor=actor, at=at)
    return job
