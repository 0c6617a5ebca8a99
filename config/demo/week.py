"""Books the demo's week: a job in work, one sold and booked, one sold without a day, one penciled in."""

from __future__ import annotations

import datetime as dt
from typing import Final

from django.db import transaction
from django.utils import timezone

from config.demo.shop import JOB_IN_WORK, QUOTED_JOB, SHOP_NAME
from config.demo.stories import DAY, Crew, Sold, sell
from jobs.models import Bay, Booking, Job, Membership, Shop
from jobs.schedule.bays import bay_save
from jobs.schedule.book import Wish, booking_create
from jobs.shop.days import local_date
from jobs.shop.members import member_change

#: Sold a while ago; the first has its days, the second waits for some.
BOOKED: Final = Sold(
    "Bettina Okafor", "+1 303 555 0178", 2023, "TRL-2310", "1CC22TA19P0001127", "Solar for the lake", 0
)
UNDATED: Final = Sold(
    "Rhys Calder", "+1 303 555 0179", 2020, "TRL-2077", "1CC22TA10L0009931", "Same again, please", 0
)
_WEEKDAYS: Final = 5


@transaction.atomic
def week_tell() -> None:
    """Fill the week board, once: a shop that has a bay is left alone."""
    shop = Shop.objects.filter(name=SHOP_NAME).first()
    if shop is None or Bay.objects.of_shop(shop).exists():
        return
    crew, now = Crew.of_shop(), timezone.now()
    today = local_date(shop, now)
    bays = [
        bay_save(bay=Bay(shop=shop, name=name, kind=kind, works_saturday=saturday), actor=crew.owner, at=now)
        for name, kind, saturday in (
            ("Bay 1", Bay.Kind.BAY, False), ("Bay 2", Bay.Kind.BAY, False), ("Van", Bay.Kind.MOBILE, True),
        )
    ]  # fmt: skip
    people = _licensed(crew, now)
    _book(shop, JOB_IN_WORK, Wish(bay=bays[0], starts_on=_working(today, -2), people=people, days=4), now)
    sold = [sell(one, crew, now) for one in (BOOKED, UNDATED)]
    after = _working(today, 7)
    _book(shop, sold[0].number, Wish(bay=bays[1], starts_on=after, people=people, note="Low gate"), now)
    owner = (crew.owner.membership,)
    trip = Wish(
        bay=bays[2], starts_on=_working(today, 1), state=Booking.State.PENCILLED, people=owner, days=2,
        place=Booking.Place.CAMPSITE, travel_min=90, note="Ask the site whether repairs are allowed",
    )  # fmt: skip
    _book(shop, QUOTED_JOB, trip, now)


def _licensed(crew: Crew, now: dt.datetime) -> tuple[Membership, ...]:
    """Return lead and technician; the lead holds the license that inverter work needs."""
    lead: Membership = crew.lead.membership
    member_change(
        member=lead, role=lead.role, is_active=True, licence_no="EL-40718", actor=crew.owner, at=now
    )
    return lead, crew.technician.membership


def _working(day: dt.date, away: int) -> dt.date:
    """Return the day so many days away, or the next that is no weekend."""
    found = day + away * DAY
    while found.weekday() >= _WEEKDAYS:
        found += DAY
    return found


def _book(shop: Shop, number: str, wish: Wish, now: dt.datetime) -> None:
    job = Job.objects.of_shop(shop).select_related("shop").filter(number=number).first()
    if job is not None and job.is_open:
        booking_create(job=job, wish=wish, actor=Crew.of_shop().owner, at=now)
