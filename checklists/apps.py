"""Opens the install record when a customer accepts a quote."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    name = "checklists"

    def ready(self) -> None:
        """Listen for accepted quotes; tell the schedule how worked hours are read."""
        from jobs.quote.accepted import quote_accepted
        from jobs.schedule.speed import worked_hours_by

        quote_accepted.connect(open_checklist, dispatch_uid="checklists.open")
        worked_hours_by(worked_on)


def open_checklist(sender: Any, *, quote: Any, at: Any, **_: Any) -> None:
    """Open the install record inside the accepting transaction; if this fails, the acceptance fails too."""
    from checklists.office.opening import checklist_open

    checklist_open(quote=quote, at=at)


def worked_on(shop: Any, jobs: Any) -> dict[int, float]:
    """Return the hours that were worked on each job, by its clocks."""
    from checklists.record.hours import worked_hours

    return worked_hours(shop, jobs)
