"""The schedule as a calendar (RFC 5545): a feed for each person of the shop, and the days for a customer.

Every event is of whole days, so that no time zone is needed; a booking with days between that are free is
an event a run of days. No prices are in it.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Final

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Prefetch
from django.urls import reverse
from icalendar import Calendar, Event, vCalAddress

from common.told import in_english
from jobs.models import Booking, CalendarLink, HeldDay, Membership, Shop
from jobs.quote.document import day as in_words
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

TOKEN_BYTES: Final = 32
#: So far back and ahead the feed reaches.
_BACK: Final = timedelta(days=60)
_AHEAD: Final = timedelta(days=400)
_PRODUCT: Final = "-//Coachlight//Schedule//EN"
_HOUR: Final = timedelta(hours=1)


class LinkUnknown(Refusal):
    """There is no such feed, or it was taken back; nothing more is said about it."""


@in_english
@transaction.atomic
def calendar_link_create(*, member: Membership, actor: User, at: datetime) -> str:
    """Make a person's secret address, their own only, and return its token; an earlier one ends."""
    _own(member, actor)
    _end_all(member, at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    CalendarLink.objects.create(member=member, token_sha256=_sha256(token), created_at=at)
    log(shop=member.shop, actor=actor, verb="calendar link made", at=at)
    return token


@in_english
@transaction.atomic
def calendar_link_revoke(*, member: Membership, actor: User, at: datetime) -> None:
    """Take a person's address back: from now on it answers like any unknown one."""
    _own(member, actor)
    if _end_all(member, at):
        log(shop=member.shop, actor=actor, verb="calendar link taken back", at=at)


def _own(member: Membership, actor: User) -> None:
    if require(actor, member.shop, "is_member").pk != member.pk:
        raise LinkUnknown("A calendar link is made and taken back by the person it belongs to.")


def _end_all(member: Membership, at: datetime) -> int:
    return CalendarLink.objects.filter(member=member, revoked_at=None).update(revoked_at=at)


def calendar_link_of(member: Membership) -> CalendarLink | None:
    """Return the person's link that is good."""
    return CalendarLink.objects.filter(member=member, revoked_at=None).first()


def calendar_open(*, token: str, at: datetime) -> Membership:
    """Return whose feed this token opens; raise LinkUnknown. Who left the shop has none."""
    rows = CalendarLink.objects.filter(token_sha256=_sha256(token), revoked_at=None, member__is_active=True)
    link = rows.select_related("member__shop", "member__user").first()
    if link is None:
        raise LinkUnknown("We cannot find this calendar.")
    if link.last_used_at is None or at - link.last_used_at > _HOUR:  # programs ask every few minutes
        CalendarLink.objects.filter(pk=link.pk).update(last_used_at=at)
    return link.member


def token_name(token: str) -> str:
    """Return a name that a token may be counted under without being told."""
    return _sha256(token)[:16]


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def feed_of(member: Membership, *, today: date) -> bytes:
    """Return a person's calendar: their own days; of who plans for the shop, everybody's."""
    shop = member.shop
    held = HeldDay.objects.filter(bay__isnull=False).order_by("day")
    rows = Booking.objects.of_shop(shop).exclude(state=Booking.State.OFF)
    rows = rows.filter(ends_on__gte=today - _BACK, starts_on__lte=today + _AHEAD)
    if not member.may_design:
        rows = rows.filter(held__member=member).distinct()
    found = rows.select_related("bay", "job__vehicle__customer").prefetch_related(
        Prefetch("held", held, to_attr="bay_days")
    )
    whose = "everybody" if member.may_design else member.user.get_full_name()
    calendar = _calendar(f"{shop.name}: {whose}")
    for booking in found:
        for event in _work_events(booking):
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _calendar(name: str) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("name", name)  # RFC 7986, 5.1
    calendar.add("x-wr-calname", name)  # programs before it
    calendar.add("refresh-interval", _HOUR, parameters={"VALUE": "DURATION"})  # RFC 7986, 5.7
    return calendar


def _work_events(booking: Booking) -> Iterator[Event]:
    """Yield an event for each run of days without a gap."""
    job = booking.job
    days = [one.day for one in getattr(booking, "bay_days", ())]
    state = "" if booking.is_booked else f" ({booking.get_state_display().lower()})"
    told = [
        str(job.vehicle), job.vehicle.plate, f"{booking.bay}, {booking.get_place_display().lower()}",
        f"{booking.arrive_at:%I:%M %p}".lstrip("0"), booking.note,
        f"May drive from {in_words(booking.release_on)}",
        f"{settings.SITE_URL.rstrip('/')}{reverse('jobs:job_detail', args=[job.pk])}",
    ]  # fmt: skip
    for number, (first, last) in enumerate(runs(days)):
        event = _event(booking, f"booking-{booking.pk}-{number}", first, last)
        event.add("summary", f"{job.number} {job.vehicle.customer.name}, {booking.bay}{state}")
        event.add("description", "\n".join(filter(None, told)))
        event.add("status", "CONFIRMED" if booking.is_booked else "TENTATIVE")
        if job.work_place:
            event.add("location", job.work_place)
        yield event


def runs(days: Iterable[date]) -> list[tuple[date, date]]:
    """Return the first and last day of each run without a gap."""
    found: list[tuple[date, date]] = []
    for day in days:
        if found and day - found[-1][1] == timedelta(days=1):
            found[-1] = (found[-1][0], day)
        else:
            found.append((day, day))
    return found


def _event(booking: Booking, name: str, first: date, last: date) -> Event:
    """Return an event of whole days; its end is the day after the last (RFC 5545, 3.6.1)."""
    event = Event()
    event.add("uid", f"{name}@{settings.MAIL_DOMAIN}")
    event.add("dtstamp", booking.changed_at.astimezone(UTC))
    event.add("sequence", booking.edits)
    event.add("dtstart", first)
    event.add("dtend", last + timedelta(days=1))
    return event


def customer_days(booking: Booking, shop: Shop, words: str) -> str:
    """Return the days as the customer keeps them: from bringing the vehicle until it may drive.

    Where the shop has an address they are an invitation in the form of RFC 5546, 3.2.1 (PUBLISH); of a
    booking taken off, its cancellation (3.2.5).
    """
    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    event = _event(booking, f"visit-{booking.pk}", booking.starts_on, booking.release_on)
    event.add("summary", f"{shop.name}: work on your {booking.job.vehicle}")
    event.add("description", words)
    event.add("status", "CANCELLED" if booking.is_off else "CONFIRMED")
    if place := booking.job.work_place if booking.bay.is_mobile else shop.address:
        event.add("location", ", ".join(place.split("\n")))
    if shop.email:
        calendar.add("method", "CANCEL" if booking.is_off else "PUBLISH")
        organizer = vCalAddress(f"mailto:{shop.email}")
        organizer.params["cn"] = shop.name
        event.add("organizer", organizer)
    calendar.add_component(event)
    return str(calendar.to_ical().decode())
