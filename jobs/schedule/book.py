"""Books days for a job: what is refused, what is held, and the promise that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from common.told import in_english
from jobs.models import Bay, Booking, HeldDay, Job, Membership, Shop
from jobs.quote.document import day as in_words
from jobs.schedule.days import (
    MOST_DAYS,
    Release,
    days_needed,
    is_open,
    promise_after,
    release_of,
    work_days,
)
from jobs.schedule.needs import Needs, needs_of
from jobs.schedule.speed import speed_of
from jobs.schedule.visit import visit_off
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

S = Booking.State
_MOST_TRAVEL_MIN: Final = 600
_ENDED: Final = {Job.State.DECLINED, Job.State.EXPIRED, Job.State.CANCELLED, Job.State.REFUSED}


class BookingRefused(Refusal):
    """The days cannot be held so; says why."""


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is asked for: where, when, by whom; ``days`` None: by plan; ``promise_on`` None: it follows."""

    bay: Bay
    starts_on: date
    state: str = S.BOOKED
    place: str = Booking.Place.SHOP
    people: tuple[Membership, ...] = ()
    days: int | None = None
    arrive_at: time = time(8, 0)
    travel_min: int = 0
    promise_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Booked:
    """What was stored, and the promise before and after it."""

    booking: Booking
    promise_before: date | None
    promise_after: date | None
    wait_days: int = 0
    slowest: str = ""

    @property
    def says(self) -> str:
        """Return what became of it, in a sentence or two."""
        one = self.booking
        until = f" to {in_words(one.ends_on)}" if one.ends_on != one.starts_on else ""
        said = f"{one.get_state_display()}: {one.bay}, {in_words(one.starts_on)}{until}."
        if self.wait_days:
            order_by = in_words(one.starts_on - timedelta(days=self.wait_days))
            said += f" Order the parts by {order_by}: {self.slowest} takes {self.wait_days} days to come."
        if self.promise_after is None or self.promise_after == self.promise_before:
            return said
        before = f" (it was {in_words(self.promise_before)})" if self.promise_before else ""
        return f"{said} The promise to the customer is now {in_words(self.promise_after)}{before}."


@in_english
@transaction.atomic
def booking_create(*, job: Job, wish: Wish, actor: User, at: datetime) -> Booked:
    """Hold days for a job; raise BookingRefused with the reason when they cannot be held."""
    require(actor, job.shop, "may_design")
    job = _locked(job)
    booking = Booking(job=job, created_at=at)
    return _hold(booking, wish, actor, at, verb="days booked")


@in_english
@transaction.atomic
def booking_change(*, booking: Booking, edits: int, wish: Wish, actor: User, at: datetime) -> Booked:
    """Hold other days, another bay or other people instead; the promise follows."""
    require(actor, booking.job.shop, "may_design")
    _locked(booking.job)
    return _hold(_newest(booking, edits), wish, actor, at, verb="booking changed")


@in_english
@transaction.atomic
def booking_move(
    *, booking: Booking, edits: int, bay: Bay, starts_on: date, actor: User, at: datetime
) -> Booked:
    """Move a booking to another day or bay as it is: same people, same number of days, promise following."""
    require(actor, booking.job.shop, "may_design")
    _locked(booking.job)
    stored = _newest(booking, edits)
    wish = replace(wish_of(stored), bay=bay, starts_on=starts_on, promise_on=None)
    if bay.is_mobile != stored.bay.is_mobile:
        wish = replace(wish, place=Booking.Place.DRIVEWAY if bay.is_mobile else Booking.Place.SHOP)
    return _hold(stored, wish, actor, at, verb="booking moved")


@in_english
@transaction.atomic
def booking_off(*, booking: Booking, edits: int, reason: str, actor: User, at: datetime) -> Booking:
    """Take a booking off: its days are free again, the record stays."""
    require(actor, booking.job.shop, "may_design")
    _locked(booking.job)
    stored = _newest(booking, edits)
    if not reason.strip():
        raise BookingRefused("Please say why it is taken off.")
    return _off(stored, reason.strip(), actor, at)


def bookings_follow(*, job: Job, actor: Actor, at: datetime) -> None:
    """Free the days of a job that ended, and pencil those of one designed again, inside the move itself."""
    live = job.bookings.exclude(state=S.OFF).select_related("job__shop", "bay")
    if job.state in _ENDED:
        for booking in live:
            _off(booking, f"The job ended: {job.get_state_display()}", actor, at)
    elif job.state == Job.State.DESIGNING:
        live.update(state=S.PENCILLED, edits=F("edits") + 1, changed_at=at)


def wish_of(booking: Booking) -> Wish:
    """Return a stored booking as it would be asked for."""
    held = booking.held.filter(day=booking.starts_on, member__isnull=False).select_related("member__user")
    return Wish(
        bay=booking.bay, starts_on=booking.starts_on, state=booking.state, place=booking.place,
        people=tuple(one.member for one in held if one.member), days=booking.days,
        arrive_at=booking.arrive_at, travel_min=booking.travel_min, note=booking.note,
    )  # fmt: skip


def _locked(job: Job) -> Job:
    """Return the job; who books in a shop waits for whoever books there now."""
    Shop.objects.select_for_update(no_key=True).get(pk=job.shop_id)
    return Job.objects.select_related("shop").get(pk=job.pk)


def _newest(booking: Booking, edits: int) -> Booking:
    stored = Booking.objects.select_related("job__shop", "bay").get(pk=booking.pk)
    if stored.edits != edits:
        raise BookingRefused("Somebody changed this booking meanwhile. Look at it again, then say it anew.")
    if stored.is_off:
        raise BookingRefused("This booking was taken off. Book the job anew.")
    return stored


def _hold(booking: Booking, wish: Wish, actor: User, at: datetime, *, verb: str) -> Booked:
    """Check the wish and store it with the days it holds."""
    job, needs = booking.job, needs_of(booking.job)
    _check_wish(job, needs, wish)
    speed = speed_of(job.shop)
    count = wish.days or planned_days(needs, wish, speed)
    if not 1 <= count <= MOST_DAYS:
        raise BookingRefused(f"Days: say how many, from 1 to {MOST_DAYS}; no priced hours tell.")
    days = work_days(wish.bay, wish.starts_on, count)
    _check_free(booking, wish, days)
    release = release_of(days, roof_days=_roof_days(needs, wish, speed), is_bonded=needs.is_bonded)
    before, release_before = job.promised_date, job.release_day()
    _store(booking, wish, days, release, needs, speed, at)
    _promise(job, wish, before, release_before)
    _put_on(job, wish.people)
    slowest = next(iter(needs.slowest), "")
    told = Booked(booking, before, job.promised_date, needs.longest_wait, slowest)
    log(shop=job.shop, job=job, actor=actor, verb=verb, detail=told.says, at=at)
    return told


def planned_days(needs: Needs, wish: Wish, speed: Decimal | None) -> int:
    """Return the days by plan hours, with those that signed change orders add."""
    return _days(needs.hours, wish, speed) + needs.extra_days


def _roof_days(needs: Needs, wish: Wish, speed: Decimal | None) -> int:
    return _days(needs.roof_hours, wish, speed)


def _days(hours: Decimal, wish: Wish, speed: Decimal | None) -> int:
    people, place, way = len(wish.people), wish.place, wish.travel_min
    return days_needed(hours, people=people, place=place, travel_min=way, speed=speed)


def _check_wish(job: Job, needs: Needs, wish: Wish) -> None:
    """Raise BookingRefused for what can be told without looking at other bookings."""
    shop_pks = {wish.bay.shop_id, *(person.shop_id for person in wish.people)}
    if shop_pks != {job.shop_id}:
        raise ValueError("bay and people belong to the job's shop")
    if not job.is_open or not (job.is_in_install or wish.state == S.PENCILLED):
        raise BookingRefused(
            f"A job that is “{job.get_state_display()}” cannot be booked; until the quote is accepted it can"
            " be penciled in."
        )
    if wish.bay.is_mobile == (wish.place == Booking.Place.SHOP):
        where = "drives out: say to a driveway or a campsite" if wish.bay.is_mobile else "is in the shop"
        raise BookingRefused(f"Place: {wish.bay} {where}.")
    if not wish.bay.is_active:
        raise BookingRefused(f"{wish.bay} is not in use any more.")
    if not is_open(wish.bay, wish.starts_on):
        raise BookingRefused(f"Nobody works in {wish.bay} on a {wish.starts_on:%A}.")
    if not 0 <= wish.travel_min <= _MOST_TRAVEL_MIN:
        raise BookingRefused(f"Travel: from 0 to {_MOST_TRAVEL_MIN} minutes a day.")
    if wish.state == S.BOOKED:
        _check_firm(needs, wish.people)


def _check_firm(needs: Needs, people: Sequence[Membership]) -> None:
    """Raise BookingRefused for what only a firm booking needs."""
    if not needs.is_sold:
        raise BookingRefused("The quote is not accepted yet: pencil it in, and book it when it is.")
    if not people:
        raise BookingRefused("Who works on it: choose at least one person.")
    if gone := [name_of(one.user) for one in people if not one.is_active]:
        raise BookingRefused(f"{gone[0]} has left the shop.")
    if needs.licence_tasks and not any(one.licence_no.strip() for one in people):
        raise BookingRefused(
            f"License needed for “{needs.licence_tasks[0]}”: nobody chosen holds one. Choose a person with a"
            " license number under People."
        )


def _check_free(booking: Booking, wish: Wish, days: list[date]) -> None:
    """Raise BookingRefused naming who holds the bay or a person on one of the days."""
    held = HeldDay.objects.filter(day__in=days).exclude(booking=booking.pk)
    rows = held.select_related("booking__job__vehicle__customer", "bay", "member__user").order_by("day", "pk")
    taken = rows.filter(bay=wish.bay).first()
    if taken is None:
        taken = rows.filter(member__in=[person.pk for person in wish.people]).first()
    if taken is None:
        return
    job, state = taken.booking.job, taken.booking.get_state_display().lower()
    who = name_of(taken.member.user) if taken.member else str(taken.bay)
    raise BookingRefused(
        f"{who} is taken on {in_words(taken.day)}: {job.number}, {job.vehicle.customer.name} ({state})."
    )


def _store(
    booking: Booking, wish: Wish, days: list[date], release: Release, needs: Needs, speed: Decimal | None,
    at: datetime,
) -> None:  # fmt: skip
    """Write the booking and the days it holds."""
    is_new = booking.pk is None
    booking.bay, booking.state, booking.place = wish.bay, wish.state, wish.place
    booking.starts_on, booking.ends_on, booking.days = days[0], days[-1], len(days)
    booking.arrive_at, booking.travel_min, booking.note = wish.arrive_at, wish.travel_min, wish.note
    booking.plan_h, booking.speed = needs.hours.quantize(Decimal("0.01")), speed
    booking.cure_h, booking.sealed_on, booking.release_on = (
        release.cure_h, release.sealed_on, release.release_on,
    )  # fmt: skip
    booking.edits += 0 if is_new else 1
    booking.changed_at = at
    booking.full_clean()
    booking.save()
    booking.held.all().delete()
    rows = [HeldDay(booking=booking, day=day, bay=wish.bay) for day in days]
    rows += [HeldDay(booking=booking, day=day, member=person) for day in days for person in wish.people]
    HeldDay.objects.bulk_create(rows)


def _promise(job: Job, wish: Wish, before: date | None, release_before: date | None) -> None:
    """Have the promise follow, or take the one that was said; raise BookingRefused before the release."""
    release = job.release_day()
    if release is None:
        return
    promise = wish.promise_on or promise_after(before, release_before, release)
    if promise < release:
        raise BookingRefused(
            f"Promise: the vehicle may not drive before {in_words(release)}; the sealant cures until then."
            " Promise that day or a later one."
        )
    job.promised_date = promise
    job.save(update_fields=["promised_date"])


def _put_on(job: Job, people: Sequence[Membership]) -> None:
    """Have those who are booked work on the job, so that their tablets bring it."""
    job.assigned_to.add(*(person.user_id for person in people))


def _off(booking: Booking, reason: str, actor: Actor, at: datetime) -> Booking:
    booking.state, booking.changed_at = S.OFF, at
    booking.edits += 1
    booking.save(update_fields=["state", "changed_at", "edits"])
    booking.held.all().delete()
    visit_off(booking, at)
    job, detail = booking.job, str(booking)
    log(shop=job.shop, job=job, actor=actor, verb="booking taken off", detail=detail, reason=reason, at=at)
    return booking
