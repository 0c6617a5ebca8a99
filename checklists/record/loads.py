"""Reads what of the pull list is loaded and what is missing."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from checklists.models import Checklist, StepEvent
from checklists.record.pull import PullLine, pull_list
from checklists.record.read import event_of
from checklists.rules.loads import LOAD_VERBS, SHORT, Loads, Shortage, loads_of
from checklists.rules.reducer import UNDO, Event
from jobs.models import Job, Shop


@dataclass(frozen=True, slots=True)
class Missing:
    """A shortage in words; ``line`` is None for something that is not on the list."""

    shortage: Shortage
    line: PullLine | None

    @property
    def text(self) -> str:
        """Return what is missing."""
        return self.line.text if self.line else "Not on the list"


def job_loads(checklist: Checklist) -> Loads:
    """Return what is loaded and missing on one job."""
    rows = StepEvent.objects.filter(checklist=checklist, step__isnull=True, verb__in=[*LOAD_VERBS, UNDO])
    return loads_of(event_of(row) for row in rows)


def job_shortages(checklist: Checklist) -> tuple[Missing, ...]:
    """Return what is missing on a job and not settled, with its line of the pull list."""
    open_ones = job_loads(checklist).open_shortages
    if not open_ones:
        return ()
    lines = {line.key: line for line in pull_list(checklist)}
    return tuple(Missing(one, lines.get(one.key)) for one in open_ones)


def jobs_short(shop: Shop) -> list[tuple[Job, int]]:
    """Return the jobs of a shop on which something is missing, each with how many lines."""
    rows = StepEvent.objects.of_shop(shop).filter(step__isnull=True, verb__in=[SHORT, UNDO])
    by_job: dict[int, list[Event]] = defaultdict(list)
    for row in rows:
        by_job[row.checklist_id].append(event_of(row))
    short = {pk: len(loads_of(events).open_shortages) for pk, events in by_job.items()}
    open_ones = [pk for pk, count in short.items() if count]
    if not open_ones:
        return []
    found = Checklist.objects.filter(pk__in=open_ones).select_related("job__vehicle__customer")
    return [(each.job, short[each.pk]) for each in found]
