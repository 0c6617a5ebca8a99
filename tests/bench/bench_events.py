"""Times one more event on a job that has many: 10,000 values in one field, each replacing the one before.

``uv run --group dev python tests/bench/bench_events.py``. A database of its own; printed are the time of one
more event at 100 and at 10,000, their ratio, and what reading all events would cost. Goal: 60 ms at 10,000.
"""

from __future__ import annotations

import datetime as dt
import os
import statistics
import sys
import tempfile
import time
import uuid
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


def main() -> None:
    """Record into a job and print the times."""
    sys.path.insert(0, str(ROOT))
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        os.environ.setdefault("DEBUG", "0")
        from tests.bench.bench_workspace import set_up

        set_up()
        checklist, person, step = opened()
        few = spent(checklist, person, step, 100)
        many = spent(checklist, person, step, 10_000)
        print(f"one more event at    100        {few:8.1f} ms")
        print(f"one more event at 10,000        {many:8.1f} ms   goal 60")
        print(f"ratio                           {many / few:8.2f}")
        from checklists.record.read import work_of

        print(f"reading the job                 {timed(lambda: work_of(checklist)):8.1f} ms")
        print(f"reading all its events          {timed(lambda: work_of(checklist, whole=True)):8.1f} ms")


def opened() -> tuple[Any, Any, Any]:
    """Return an install on its first day, somebody who records, and the step."""
    from jobs.models import Job, Membership
    from tests.roles import step_of
    from tests.unit.checklists.conftest import open_for

    job = Job.objects.get(number="2026-001")
    checklist = open_for(job, dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC))
    person = Membership.objects.filter(shop=job.shop, role="technician").first().user
    return checklist, person, step_of(checklist, "rest_volts")


def spent(checklist: Any, person: Any, step: Any, up_to: int) -> float:
    """Fill the chain up to a number of events, then return the median time of one more. [ms]"""
    from checklists.models import StepEvent

    now = dt.datetime(2026, 11, 26, 16, 0, tzinfo=dt.UTC)
    last = StepEvent.objects.filter(checklist=checklist).order_by("-serial").first()
    rows, before, serial = [], last and last.pk, last.serial if last else 0
    while serial < up_to - 1:
        serial += 1
        row = StepEvent(
            id=uuid.uuid4(), checklist=checklist, serial=serial, step=step, field="rest_v", unit="V",
            value=12.0 + serial % 97 / 100, replaces=[str(before)] if before else [], by=person,
            by_name="Bob", claimed_at=now, received_at=now, design_number=checklist.design.number,
        )  # fmt: skip
        before = row.pk
        rows.append(row)
    StepEvent.objects.bulk_create(rows, batch_size=500)
    times = []
    for place in range(12):
        begun = time.perf_counter()
        before = one_more(checklist, person, step, before, 12.0 + place / 100)
        times.append((time.perf_counter() - begun) * 1000)
    print(f"  the first of them             {times[0]:8.1f} ms (reads all, keeps what stands)")
    return statistics.median(times[2:])


def one_more(checklist: Any, person: Any, step: Any, before: Any, value: float) -> Any:
    """Record one more value as a tablet sends it."""
    from checklists.record.events import events_record
    from checklists.rules.entries import Entry

    seen = (before,) if before else ()
    entry = Entry(id=uuid.uuid4(), step=step.pk, field="rest_v", value=value, unit="V", replaces=seen)
    events_record(checklist=checklist, entries=[entry], actor=person, at=dt.datetime.now(dt.UTC))
    return entry.id


def timed(do: Any) -> float:
    """Return the median time of doing something. [ms]"""
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        do()
        times.append((time.perf_counter() - begun) * 1000)
    return statistics.median(times)


if __name__ == "__main__":
    main()
