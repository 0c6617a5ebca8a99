"""The sums of the schedule: hours into days, days onto the calendar, sealant until the vehicle may drive."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final, Protocol

from jobs.models import Bay
from jobs.quote.labour import PAIR_FACTOR, PRODUCTIVE_H

#: From sealing until the vehicle may drive; 72 h where panels or feet are only bonded. Common practice, the
#: label of the tube wins. [h]
CURE_H: Final = 24
BONDED_CURE_H: Final = 72
#: So much of a day's travel the productive hours of a driveway or campsite have in them already, as the task
#: "trip, set-up, pack-down". A starting value of ours, no source. [h]
TRAVEL_INCLUDED_H: Final = Decimal(1)
#: However far it is, a day is worth no less; a longer way needs another plan. Ours, no source. [h]
LEAST_H_A_DAY: Final = Decimal(1)
#: Own records count between these shares of the plan: beyond, they are likelier wrong. Ours, no source. [-]
SPEED_LIMITS: Final = (Decimal("0.5"), Decimal(2))
#: The longest booking; more is a typing error. Ours, no source. [d]
MOST_DAYS: Final = 60
_SATURDAY, _SUNDAY = 5, 6


class LabourLine(Protocol):
    """What the sums read of a line of labor."""

    @property
    def quantity(self) -> Decimal:
        """Return the hours."""

    @property
    def is_pair(self) -> bool:
        """Return whether they are hours of two people."""


def one_person_hours(lines: Iterable[LabourLine]) -> Decimal:
    """Return the hours one person would need: an hour of a pair is the work of 1.7, not of 2."""
    return sum((line.quantity * (PAIR_FACTOR if line.is_pair else 1) for line in lines), Decimal(0))


def productive_hours(place: str, travel_min: int = 0) -> Decimal:
    """Return what of a day ends up in the work: by place, less the way beyond the first hour."""
    way_h = max(Decimal(travel_min) / 60 - TRAVEL_INCLUDED_H, Decimal(0))
    return max(PRODUCTIVE_H[place] - way_h, LEAST_H_A_DAY)


def days_needed(
    hours: Decimal, *, people: int, place: str, travel_min: int = 0, speed: Decimal | None = None
) -> int:
    """Return whole working days: hours over what people do in a day, by the shop's own speed where known.

    Nothing is known of what a third person saves, so three count as two.
    """
    if hours <= 0:
        return 0
    shared = hours * (speed or 1) / (PAIR_FACTOR if people > 1 else 1)
    return math.ceil(shared / productive_hours(place, travel_min))


def is_open(bay: Bay, day: date) -> bool:
    """Return whether work goes on in the bay on this day of the week."""
    return {_SATURDAY: bay.works_saturday, _SUNDAY: bay.works_sunday}.get(day.weekday(), True)


def work_days(bay: Bay, start: date, count: int) -> list[date]:
    """Return ``count`` days of work from ``start``, over the weekends the bay is closed on."""
    found: list[date] = []
    day = start
    while len(found) < count:
        if is_open(bay, day):
            found.append(day)
        day += timedelta(days=1)
    return found


@dataclass(frozen=True, slots=True)
class Release:
    """When the roof is sealed, how long it rests, and the first day the vehicle may drive."""

    sealed_on: date | None
    cure_h: int
    release_on: date


def release_of(days: list[date], *, roof_days: int, is_bonded: bool) -> Release:
    """Return when the vehicle may drive. The roof comes first; it is sealed by the end of its last day."""
    if not roof_days:
        return Release(None, 0, days[-1])
    sealed_on = days[min(roof_days, len(days)) - 1]
    cure_h = BONDED_CURE_H if is_bonded else CURE_H
    return Release(sealed_on, cure_h, max(days[-1], sealed_on + timedelta(hours=cure_h)))


def promise_after(promised: date | None, release_before: date | None, release_after: date) -> date:
    """Return the promise when the release moves: as many days behind it as it was, never before it."""
    if promised is None or release_before is None:
        return release_after if promised is None else max(promised, release_after)
    return release_after + max(promised - release_before, timedelta(0))
