"""Reads the clocks of a job, among those of the same people on other jobs of the shop."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta

from django.db.models import Max, Min, QuerySet

from checklists.models import Checklist, StepEvent
from checklists.rules.clocks import CLOCK_VERBS, UNDO, ClockEvent, Span, spans_of
from jobs.models import Shop

#: Clocks this long before and after a job's own are read beside them: one of them may end one of the job's.
_AROUND = timedelta(days=7)


def job_spans(checklist: Checklist) -> tuple[Span, ...]:
    """Return the hours of one job; a clock that somebody started on another job ends one that ran here."""
    own = StepEvent.objects.filter(checklist=checklist, verb__in=CLOCK_VERBS)
    times = list(own.values_list("claimed_at", flat=True))
    if not times:
        return ()
    rows = _clock_rows(checklist.job.shop).filter(
        claimed_at__range=(min(times) - _AROUND, max(times) + _AROUND)
    )
    found = spans_of(clock_event(row) for row in rows)
    return tuple(span for span in found if span.job == checklist.job_id)


def worked_hours(shop: Shop, jobs: Collection[int]) -> dict[int, float]:
    """Return the hours everybody worked on each of these jobs; a clock nobody stopped does not count."""
    times = StepEvent.objects.of_shop(shop).filter(checklist__job__in=jobs, verb__in=CLOCK_VERBS)
    first_last = times.aggregate(first=Min("claimed_at"), last=Max("claimed_at"))
    if first_last["first"] is None:
        return {}
    around = (first_last["first"] - _AROUND, first_last["last"] + _AROUND)
    found: dict[int, float] = {}
    for span in spans_of(map(clock_event, _clock_rows(shop).filter(claimed_at__range=around))):
        if span.job in jobs and span.end is not None:
            found[span.job] = found.get(span.job, 0.0) + span.hours(span.end)
    return found


def _clock_rows(shop: Shop) -> QuerySet[StepEvent]:
    rows: QuerySet[StepEvent] = StepEvent.objects.of_shop(shop).filter(
        step__isnull=True, verb__in=[*CLOCK_VERBS, UNDO]
    )
    return rows.select_related("checklist")


def clock_event(row: StepEvent) -> ClockEvent:
    """Return a stored event as the clocks read it."""
    return ClockEvent(
        id=row.pk,
        verb=row.verb,
        at=row.done_at,
        phase=row.field,
        value=row.value,
        undoes=row.undoes,
        reason=row.cause,
        by_name=row.by_name,
        job=row.checklist.job_id,
    )
