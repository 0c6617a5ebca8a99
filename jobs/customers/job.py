"""How a job begins and moves; the only writer of ``Job.state``."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User
from django.db import transaction
from django.dispatch import Signal

from common import units as trade
from common.told import in_english
from jobs.models import Job, JobMove, Membership, Shop, Survey, Vehicle
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

S = Job.State
#: Sent inside the transaction of a move; what hangs on a job's state follows. Sends: job, actor, at.
job_moved = Signal()
#: Columns of a survey that begin with a usual value, by unit.
_DEFAULTS: Final = {
    "deck_thickness_mm": "mm", "rafter_spacing_mm": "mm", "walkway_width_mm": "mm", "edge_clearance_mm": "mm",
    "front_clearance_mm": "mm", "max_person_kg": "kg", "tmax_c": "°C",
}  # fmt: skip
_SIDE_EXITS = {S.DECLINED, S.EXPIRED, S.CANCELLED, S.REFUSED}
# What may follow what. Side exits are open from every state before the work is released.
NEXT: dict[str, set[str]] = {
    S.ENQUIRY: {S.SURVEY_BOOKED, S.SURVEYED, S.DESIGNING},
    S.SURVEY_BOOKED: {S.SURVEYED, S.DESIGNING},
    S.SURVEYED: {S.DESIGNING},
    S.DESIGNING: {S.QUOTED},
    S.QUOTED: {S.ACCEPTED, S.DESIGNING},
    S.ACCEPTED: {S.DEPOSIT_PAID, S.DESIGNING},
    S.DEPOSIT_PAID: {S.PARTS_ORDERED, S.READY, S.IN_WORK},
    S.PARTS_ORDERED: {S.READY, S.IN_WORK},
    S.READY: {S.IN_WORK},
    S.IN_WORK: {S.PAUSED, S.COMMISSIONING},
    S.PAUSED: {S.IN_WORK},
    S.COMMISSIONING: {S.CURE_WAIT, S.RELEASED, S.IN_WORK},
    S.CURE_WAIT: {S.RELEASED, S.COMMISSIONING},
    S.RELEASED: {S.INVOICED, S.IN_CARE},
    S.INVOICED: {S.PAID},
    S.PAID: {S.IN_CARE},
    S.DECLINED: {S.DESIGNING},
    S.EXPIRED: {S.DESIGNING},
}
_BEFORE_RELEASE = set(NEXT) - {S.RELEASED, S.INVOICED, S.PAID, S.IN_CARE, S.DECLINED, S.EXPIRED}


class ChangeRefused(Refusal):
    """The job cannot be written so; says why."""


class MoveRefused(Refusal):
    """The job cannot go from where it is to where it was asked to go."""


def next_states(job: Job) -> list[str]:
    """Return the states the job may go to now, main road first."""
    order = S.values
    onward = [state for state in order if state in NEXT.get(job.state, set())]
    onward.sort(key=lambda state: order.index(state) < order.index(job.state))  # back comes after on
    return onward + (
        [state for state in S.values if state in _SIDE_EXITS] if job.state in _BEFORE_RELEASE else []
    )


@in_english
@transaction.atomic
def job_create(
    *, shop: Shop, vehicle: Vehicle, title: str, asked_for: str, actor: Actor, at: datetime
) -> Job:
    """Open a job on a vehicle of the same shop with an empty survey, and number it."""
    if vehicle.shop_id != shop.pk:
        raise ValueError("a job and its vehicle belong to one shop")
    year = at.year
    prefix = f"{year}-"
    numbers = Job.objects.of_shop(shop).filter(number__startswith=prefix).values_list("number", flat=True)
    taken = [int(number.removeprefix(prefix)) for number in numbers if number.removeprefix(prefix).isdigit()]
    job = Job(
        shop=shop,
        vehicle=vehicle,
        title=title,
        asked_for=asked_for,
        number=f"{prefix}{max(taken, default=0) + 1:03d}",
    )
    job.full_clean()
    job.save()
    Survey.objects.create(job=job, **_round_defaults(shop.units))
    log(shop=shop, job=job, actor=actor, verb="job opened", at=at)
    return job


def _round_defaults(units: str) -> dict[str, float]:
    """Return the starting values of a survey as round numbers of the shop's units, 16 in between rafters."""
    usual = Survey()
    return {name: trade.tidy(getattr(usual, name), unit, units) for name, unit in _DEFAULTS.items()}


@in_english
@transaction.atomic
def job_move(*, job: Job, to: str, actor: Actor, at: datetime, reason: str = "") -> Job:
    """Move the job to another state and log it; raise MoveRefused when the road does not lead there."""
    job = Job.objects.select_for_update(no_key=True).get(pk=job.pk)
    if to == job.state:
        return job
    if to not in next_states(job):
        raise MoveRefused(f"A job that is “{job.get_state_display()}” cannot become “{S(to).label}”.")
    if to in _SIDE_EXITS and not reason:
        raise MoveRefused("Please say why the job ends here.")
    JobMove.objects.create(
        job=job, from_state=job.state, to_state=to, by_name=name_of(actor), at=at, reason=reason
    )
    job.state, job.moved_at = to, at
    job.save(update_fields=["state", "moved_at"])
    log(shop=job.shop, job=job, actor=actor, verb="job moved", detail=str(S(to).label), reason=reason, at=at)
    job_moved.send(sender=Job, job=job, actor=actor, at=at)
    return job


# States reached by another act (a quote sent or accepted, a sheet signed), never by hand.
_BY_ACT = {S.QUOTED, S.ACCEPTED, S.RELEASED}
_FOR_LEAD = {S.IN_WORK, S.PAUSED, S.COMMISSIONING, S.CURE_WAIT}
_MONEY_IN = {S.DEPOSIT_PAID, S.PAID}  # the owner's and the bookkeeper's word
_FOR_BOOKS = _MONEY_IN | {S.INVOICED}


def moves_by_hand(job: Job, membership: Membership) -> list[str]:
    """Return the states this person may move the job to with the move form."""
    open_states = [state for state in next_states(job) if state not in _BY_ACT]
    if membership.is_owner:
        return open_states
    if membership.may_design:
        return [state for state in open_states if state not in _MONEY_IN]
    theirs = _FOR_LEAD if membership.may_lead else set()
    if membership.takes_money:
        theirs = _FOR_BOOKS
    return [state for state in open_states if state in theirs]


@in_english
@transaction.atomic
def job_move_by_hand(*, job: Job, to: str, actor: User, at: datetime, reason: str = "") -> Job:
    """Move the job as its person asked on the job's page; raise MoveRefused when it is not theirs to move."""
    membership = require(actor, job.shop, "is_member")
    if to not in moves_by_hand(job, membership):
        raise MoveRefused("This move is not possible from here, or your role does not allow it.")
    return job_move(job=job, to=to, actor=actor, at=at, reason=reason)


@in_english
@transaction.atomic
def job_change(*, job: Job, people: Iterable[Any], actor: User, at: datetime) -> Job:
    """Write what the job is called, where and by when, and who of the shop works on it."""
    require(actor, job.shop, "may_design")
    release = job.release_day()
    if release and job.promised_date and job.promised_date < release:
        raise ChangeRefused(
            f"Promised date: by what is booked the vehicle may not drive before {release:%b} {release.day},"
            f" {release.year}."
        )
    people = list(people)
    if Membership.objects.of_shop(job.shop).filter(user__in=people).count() != len(people):
        raise ValueError("who works on a job belongs to its shop")
    job.full_clean()
    job.save(update_fields=["title", "asked_for", "work_place", "promised_date"])
    job.assigned_to.set(people)
    log(shop=job.shop, job=job, actor=actor, verb="job changed", at=at)
    return job


@in_english
@transaction.atomic
def job_note(*, job: Job, text: str, actor: User, at: datetime) -> None:
    """Write a note into the job's log; anybody of the shop may."""
    require(actor, job.shop, "is_member")
    log(shop=job.shop, job=job, actor=actor, verb="note", detail=text, at=at)
