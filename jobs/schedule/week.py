"""Reads the week board: bays and people by day, and the sold jobs that have no day yet."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from django.db.models import Prefetch

from jobs.models import Bay, Booking, HeldDay, Job, LineKind, Membership, Quote, QuoteLine, Shop
from jobs.quote.lines import HOUR
from jobs.schedule.days import days_needed, is_open, one_person_hours
from jobs.schedule.needs import is_chosen
from jobs.shop.actor import name_of

S = Job.State
#: States in which a job was sold and waits for its first day.
_TO_BOOK: Final = (S.ACCEPTED, S.DEPOSIT_PAID, S.PARTS_ORDERED, S.READY)
_WEEKDAYS: Final = 5
#: Rows of the list without a date.
_MOST: Final = 40
#: So far ahead a person's own days are listed.
_OWN_DAYS: Final = 14


@dataclass(frozen=True, slots=True)
class Card:
    """A day of a booking as the board shows it."""

    booking: Booking
    day: date
    number: int
    people: tuple[str, ...]
    is_first: bool

    @property
    def is_roof(self) -> bool:
        """Return whether it is a day on the roof, which comes first."""
        return self.booking.sealed_on is not None and self.day <= self.booking.sealed_on

    @property
    def is_sealing(self) -> bool:
        """Return whether the roof is sealed at the end of this day."""
        return self.day == self.booking.sealed_on


@dataclass(frozen=True, slots=True)
class Cell:
    """A day of a row: what is held, whether work goes on there."""

    day: date
    cards: tuple[Card, ...]
    is_open: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """A bay, or a person, with the days of the week."""

    name: str
    cells: tuple[Cell, ...]
    bay: Bay | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Week:
    """What the board shows of a week."""

    monday: date
    days: tuple[date, ...]
    bays: tuple[Row, ...]
    people: tuple[Row, ...]

    @property
    def before(self) -> date:
        """Return the Monday before."""
        return self.monday - timedelta(days=7)

    @property
    def after(self) -> date:
        """Return the Monday after."""
        return self.monday + timedelta(days=7)


def monday_of(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def week_of(shop: Shop, monday: date) -> Week:
    """Return the board of one week in five questions to the database, however much is booked."""
    all_days = [monday + timedelta(days=number) for number in range(7)]
    held = list(_held(shop, all_days))
    bays = [bay for bay in Bay.objects.of_shop(shop) if bay.is_active or _is_held(held, bay)]
    days = tuple(
        day for day in all_days
        if day.weekday() < _WEEKDAYS or any(row.day == day for row in held) or _any_open(bays, day)
    )  # fmt: skip
    cards = _cards(held, days)
    rows = tuple(
        Row(bay.name, tuple(_cell(day, cards, held, bay=bay) for day in days), bay, bay.get_kind_display())
        for bay in bays
    )
    members = Membership.objects.of_shop(shop).filter(is_active=True).select_related("user")
    working = [one for one in members.order_by("user__first_name", "pk") if one.may_install]
    people = tuple(
        Row(
            name_of(one.user), tuple(_cell(day, cards, held, member=one) for day in days), note=one.licence_no
        )
        for one in working
    )
    return Week(monday, days, rows, people)


def _held(shop: Shop, days: Collection[date]) -> Collection[HeldDay]:
    every_day = HeldDay.objects.filter(bay__isnull=False).order_by("day")
    return (
        HeldDay.objects.of_shop(shop)
        .filter(day__in=days)
        .select_related("booking__job__vehicle__customer", "booking__bay", "member__user")
        .prefetch_related(Prefetch("booking__held", every_day, to_attr="bay_days"))
        .order_by("day", "pk")
    )


def _any_open(bays: Collection[Bay], day: date) -> bool:
    return any(is_open(bay, day) for bay in bays)


def _is_held(held: Collection[HeldDay], bay: Bay) -> bool:
    return any(row.bay_id == bay.pk for row in held)


def _cards(held: Collection[HeldDay], days: tuple[date, ...]) -> dict[tuple[int, date], Card]:
    """Return the card of each booking and day."""
    people: dict[tuple[int, date], list[str]] = {}
    for row in held:
        if row.member is not None:
            name = row.member.user.first_name or name_of(row.member.user)
            people.setdefault((row.booking_id, row.day), []).append(name)
    found: dict[tuple[int, date], Card] = {}
    seen: set[int] = set()
    for row in held:
        if row.bay_id is not None and row.day in days:
            held_days = [one.day for one in getattr(row.booking, "bay_days", ())]
            key = (row.booking_id, row.day)
            number = held_days.index(row.day) + 1
            is_first = row.booking_id not in seen
            found[key] = Card(row.booking, row.day, number, tuple(people.get(key, ())), is_first)
            seen.add(row.booking_id)
    return found


def _cell(
    day: date,
    cards: dict[tuple[int, date], Card],
    held: Collection[HeldDay],
    *,
    bay: Bay | None = None,
    member: Membership | None = None,
) -> Cell:
    rows = [
        row for row in held
        if row.day == day and (row.bay_id == bay.pk if bay else member and row.member_id == member.pk)
    ]  # fmt: skip
    shown = tuple(cards[row.booking_id, day] for row in rows if (row.booking_id, day) in cards)
    return Cell(day, shown, is_open(bay, day) if bay else True)


@dataclass(frozen=True, slots=True)
class Undated:
    """A sold job without a day: its hours, and the shop days of one person and of two."""

    job: Job
    hours: Decimal
    alone: int
    pair: int


def undated(shop: Shop) -> list[Undated]:
    """Return the sold jobs that hold no day, those promised first on top."""
    sold = Quote.objects.filter(state=Quote.State.ACCEPTED).prefetch_related(
        Prefetch("lines", QuoteLine.objects.filter(kind=LineKind.LABOUR, unit=HOUR))
    )
    jobs = (
        Job.objects.of_shop(shop)
        .filter(state__in=_TO_BOOK)
        .exclude(bookings__state__in=[Booking.State.BOOKED, Booking.State.PENCILLED])
        .select_related("vehicle__customer")
        .prefetch_related(Prefetch("quotes", sold, to_attr="sold"))
        .order_by("promised_date", "moved_at", "pk")
    )
    return [_undated(job, getattr(job, "sold", [])) for job in jobs[:_MOST]]


def _undated(job: Job, sold: list[Quote]) -> Undated:
    hours = sum(
        (one_person_hours(line for line in quote.lines.all() if is_chosen(quote, line)) for quote in sold),
        Decimal(0),
    )
    alone, pair = (days_needed(hours, people=people, place="shop") for people in (1, 2))
    return Undated(job, hours, alone, pair)


def own_days(member: Membership, today: date) -> list[HeldDay]:
    """Return what a person is booked on from today."""
    until = today + timedelta(days=_OWN_DAYS)
    rows = HeldDay.objects.of_shop(member.shop).filter(member=member, day__range=(today, until))
    return list(rows.select_related("booking__job__vehicle__customer", "booking__bay").order_by("day"))
