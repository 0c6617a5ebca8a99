"""The next date and the promise of many jobs at once, for their cards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from jobs.models import Booking, HeldDay, Job


@dataclass(frozen=True, slots=True)
class NextDate:
    """When a job is worked on next and where, whether that is firm, and whether its promise has passed."""

    day: date | None
    bay: str
    is_pencilled: bool
    is_late: bool


def next_date_of(jobs: Iterable[Job], *, today: date) -> Mapping[int, NextDate]:
    """Return the next date of each job by its key, in one question for all of them.

    A job without a day to come and with a promise that holds is not in the answer.
    """
    by_pk = {job.pk: job for job in jobs}
    held = HeldDay.objects.filter(booking__job__in=by_pk, bay__isnull=False, day__gte=today)
    rows = held.order_by("-day").values_list("booking__job", "day", "bay__name", "booking__state")
    days = {pk: (day, bay, state) for pk, day, bay, state in rows}  # the earliest comes last and stays
    found: dict[int, NextDate] = {}
    for pk, job in by_pk.items():
        day, bay, state = days.get(pk, (None, "", ""))
        is_late = job.is_in_install and job.promised_date is not None and job.promised_date < today
        if day or is_late:
            found[pk] = NextDate(day, bay, state == Booking.State.PENCILLED, is_late)
    return found
