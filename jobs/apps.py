"""The jobs app."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        """Have the schedule follow a job that moves."""
        from jobs.customers.job import job_moved

        job_moved.connect(_bookings_follow, dispatch_uid="jobs.bookings")


def _bookings_follow(sender: Any, *, job: Any, actor: Any, at: Any, **_: Any) -> None:
    from jobs.schedule.book import bookings_follow

    bookings_follow(job=job, actor=actor, at=at)
