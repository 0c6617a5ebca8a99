"""Tells the customer the days: an invitation, a reminder the day before, and when they are off."""

from __future__ import annotations

import zoneinfo
from datetime import date, datetime, timedelta
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F, Q

import sizing
from common.told import in_english
from jobs.models import Booking, Job, Shop
from jobs.quote.document import day as in_words
from jobs.schedule.calendar import customer_days
from jobs.shop.actor import System
from jobs.shop.log import log
from jobs.shop.outbox import mail_put
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: The reminder leaves on the day before from this hour of the shop's clock.
REMIND_FROM_H: Final = 9
#: What a customer prepares, wherever the work is. Common practice, no source.
PREPARE: Final = (
    "Tanks: fresh water low, waste tanks empty.",
    "House batteries on and charged; tell us if a switch must be set.",
    "Slides: leave room for them; we put them out or in as the work needs.",
    "Cabinets on the way of the cables empty, valuables and pets with you; no children near the ladder.",
    "Power will be off for hours: plan for medicine, a breathing device and the fridge.",
)
#: What is needed besides where the crew comes to the vehicle. Common practice, no source.
PREPARE_SITE: Final = (
    "Ground level within 3%, wheels chocked, jacks down.",
    "‹2.5 m|8 ft› clear along one side for the ladder; no overhead lines within ‹3 m|10 ft›.",
    "The site owner agrees to the work, and tells us the quiet hours.",
    "An outlet of 120 V 15 A within reach, if there is one.",
)
_WORKS: Final = (
    Job.State.ACCEPTED, Job.State.DEPOSIT_PAID, Job.State.PARTS_ORDERED, Job.State.READY, Job.State.IN_WORK,
    Job.State.PAUSED, Job.State.COMMISSIONING, Job.State.CURE_WAIT,
)  # fmt: skip


class VisitRefused(Refusal):
    """The customer cannot be told; says why."""


@in_english
@transaction.atomic
def visit_tell(*, booking: Booking, actor: User, at: datetime) -> Booking:
    """Mail the customer the days with a file for their calendar, and remember which days they were told."""
    require(actor, booking.job.shop, "may_design")
    stored = Booking.objects.select_for_update(of=("self",)).select_related(
        "bay", "job__shop", "job__vehicle__customer"
    )
    booking = stored.get(pk=booking.pk)
    if not booking.is_booked:
        raise VisitRefused("Only firm days are told to the customer: book them first.")
    if not booking.job.vehicle.customer.email:
        raise VisitRefused("There is no e-mail address on file for this customer.")
    is_moved = booking.told_at is not None
    _mail(booking, "New days" if is_moved else "The days", letter(booking), at)
    booking.told_at, booking.told_edits = at, booking.edits
    booking.save(update_fields=["told_at", "told_edits"])
    log(shop=booking.job.shop, job=booking.job, actor=actor, verb="days told", detail=str(booking), at=at)
    return booking


def visit_off(booking: Booking, at: datetime) -> None:
    """Tell a customer who was told days that they are off; others have heard of none."""
    if booking.told_at is None or not booking.job.vehicle.customer.email:
        return
    shop = booking.job.shop
    words = (
        f"Hello {booking.job.vehicle.customer.name},\n\nthe work on your {booking.job.vehicle} planned for"
        f" {in_words(booking.starts_on)} does not take place on that day. We will be in touch."
        f"\n\n{_closing(shop)}"
    )
    _mail(booking, "The days are off", words, at)


def letter(booking: Booking, *, is_reminder: bool = False) -> str:
    """Return the letter with the days and what to prepare, in the shop's units."""
    job, shop = booking.job, booking.job.shop
    opening = f"Hello {job.vehicle.customer.name},\n\n"
    begins = f"{booking.starts_on:%A}, {in_words(booking.starts_on)}"
    when = "Tomorrow we begin" if is_reminder else "We have booked the days for the work on your vehicle"
    hour = f"{booking.arrive_at:%I:%M %p}".lstrip("0")
    come = (
        f"We come on {begins}, at {hour}." if booking.bay.is_mobile
        else f"Please bring your {job.vehicle} on {begins}, at {hour}."
    )  # fmt: skip
    points = [*PREPARE, *(PREPARE_SITE if booking.bay.is_mobile else ())]
    told = "".join(f"- {sizing.in_units(point, shop.units)}\n" for point in points)
    return f"{opening}{when}. {come}{_release(booking)}\n\nPlease prepare:\n{told}\n{_closing(shop)}"


def _release(booking: Booking) -> str:
    drives = f" It may drive again from {in_words(booking.release_on)}"
    if booking.cure_h:
        drives += (
            f": the sealant on the roof has to cure for {booking.cure_h} hours first. Plan where you sleep"
            " until then"
        )
    return f"{drives}. Rain, wind or cold may move the days; we tell you as soon as we know."


def _closing(shop: Shop) -> str:
    call = f"If anything is unclear, call us at {shop.phone}.\n\n" if shop.phone else ""
    return f"{call}{shop.name}\n"


def _mail(booking: Booking, about: str, words: str, at: datetime) -> None:
    job, shop = booking.job, booking.job.shop
    mail_put(
        to=job.vehicle.customer.email,
        subject=f"{shop.name}: {about.lower()} for your {job.vehicle}",
        body=words,
        at=at,
        shop=shop,
        job=job,
        about=about,
        calendar=customer_days(booking, shop, words),
    )


@in_english
def visits_remind(*, at: datetime) -> int:
    """Remind each customer whose booked work begins tomorrow, once for each first day; return how many."""
    days = {at.date() + timedelta(days=away) for away in (0, 1, 2)}  # tomorrow somewhere on earth
    rows = Booking.objects.filter(
        Q(reminded_for=None) | ~Q(reminded_for=F("starts_on")), state=Booking.State.BOOKED,
        starts_on__in=days, job__state__in=_WORKS,
    ).exclude(job__vehicle__customer__email="")  # fmt: skip
    found = rows.select_related("bay", "job__shop", "job__vehicle__customer")
    return sum(_remind(booking, at) for booking in found if _is_time(booking.job.shop, booking.starts_on, at))


def _is_time(shop: Shop, first: date, at: datetime) -> bool:
    """Return whether it is the day before at the shop, and not the night."""
    there = at.astimezone(zoneinfo.ZoneInfo(shop.time_zone))
    return there.date() + timedelta(days=1) == first and there.hour >= REMIND_FROM_H


@transaction.atomic
def _remind(booking: Booking, at: datetime) -> bool:
    """Mail one reminder; of several workers one does it, and none for days that moved meanwhile."""
    rows = Booking.objects.filter(pk=booking.pk, edits=booking.edits, state=Booking.State.BOOKED)
    mine = rows.filter(reminded_for=booking.reminded_for).update(reminded_for=booking.starts_on)
    if not mine:
        return False
    _mail(booking, "Tomorrow", letter(booking, is_reminder=True), at)
    job = booking.job
    log(shop=job.shop, job=job, actor=System(), verb="customer reminded", detail=str(booking), at=at)
    return True
