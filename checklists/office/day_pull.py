"""What to pull for a day: the parts of every job that is booked on it, what is missing, and what to order.

Quantities are those of each job's own pull list (``checklists/record/pull.py``), less what its tablet says is
loaded. No price and no cost is read.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, Final

from checklists.models import Checklist
from checklists.record.loads import Missing, job_loads, job_shortages, jobs_short
from checklists.record.pull import GROUPS, PullLine, pull_list
from jobs.models import Booking, HeldDay, Job, Part, Shop
from jobs.quote.materials import M_PER_FT

#: Parts of these jobs are not ordered yet.
_TO_ORDER: Final = (Job.State.ACCEPTED, Job.State.DEPOSIT_PAID)
#: Jobs whose lists are put together for one order.
_MOST: Final = 40
_FEET: Final = frozenset({"ft", "foot", "feet"})
HEAD: Final = (
    "Supplier", "Supplier's number", "Stock code", "Part", "Needed", "Unit", "Packs", "Units a pack",
    "Days to come", "Order by", "For jobs",
)  # fmt: skip


@dataclass
class Pulled:
    """One thing to pull: how much in all, and how much of it for which job."""

    line: PullLine
    part: Part | None = None
    quantity: float = 0.0
    jobs: list[tuple[Job, float]] = field(default_factory=list)

    def add(self, job: Job, quantity: float) -> None:
        """Add what one more job needs."""
        self.quantity += quantity
        self.jobs.append((job, quantity))


@dataclass(frozen=True, slots=True)
class JobOfDay:
    """A job on that day: which day of how many, and what is still open of its list; None without a list."""

    job: Job
    booking: Booking
    missing: tuple[Missing, ...]
    open_lines: int | None


def day_page(shop: Shop, day: date) -> dict[str, Any]:
    """Return what the page of a day prints."""
    held = HeldDay.objects.of_shop(shop).filter(day=day, bay__isnull=False)
    rows = held.select_related("booking__bay", "booking__job__vehicle__customer").order_by("bay__name")
    bookings = [row.booking for row in rows]
    records = _records(shop, [booking.job_id for booking in bookings])
    pulled: dict[tuple[str, str], Pulled] = {}
    jobs = []
    for booking in bookings:
        record = records.get(booking.job_id)
        missing = _pull_job(pulled, record) if record else ()
        found = [one for one in pulled.values() if any(job.pk == booking.job_id for job, _ in one.jobs)]
        jobs.append(JobOfDay(booking.job, booking, missing, len(found) if record else None))
    _with_parts(shop, pulled)
    groups = [(words, [one for one in pulled.values() if one.line.group == name]) for name, words in GROUPS]
    return {"jobs": jobs, "groups": [(words, _by_place(rows)) for words, rows in groups if rows]}


def _records(shop: Shop, jobs: list[int]) -> dict[int, Checklist]:
    rows = Checklist.objects.of_shop(shop).filter(job__in=jobs)
    return {row.job_id: row for row in rows.select_related("job__shop", "job__vehicle__customer", "run")}


def _pull_job(pulled: dict[tuple[str, str], Pulled], record: Checklist) -> tuple[Missing, ...]:
    """Add what a job still has to load; return what is missing of it."""
    loads = job_loads(record)
    lines = {line.key: line for line in pull_list(record)}
    for line in lines.values():
        state = loads.loaded.get(line.key)
        left = line.quantity - float((state.value if state else None) or 0)
        if left > 1e-6:
            pulled.setdefault((line.key, line.unit), Pulled(line)).add(record.job, left)
    return tuple(Missing(one, lines.get(one.key)) for one in loads.open_shortages)


def _with_parts(shop: Shop, pulled: dict[tuple[str, str], Pulled]) -> None:
    """Give each line the catalog part it names."""
    keys = {key: int(key.removeprefix("part:")) for key, _ in pulled if key.startswith("part:")}
    parts = Part.objects.of_shop(shop).select_related("supplier").in_bulk(list(keys.values()))
    for (key, _), one in pulled.items():
        one.part = parts.get(keys.get(key, 0))


def _by_place(rows: list[Pulled]) -> list[Pulled]:
    """Return the lines by the place on the shelf, so that one walk along it does; then by name."""
    return sorted(rows, key=lambda one: (one.part.shelf if one.part else "", one.line.text))


def order_rows(shop: Shop) -> list[list[str]]:
    """Return what to order as rows of a table, by supplier.

    Of sold jobs whose parts are not ordered it is all they need, of others what their crews say is missing.
    """
    pulled: dict[tuple[str, str], Pulled] = {}
    open_jobs = Job.objects.of_shop(shop).filter(state__in=_TO_ORDER).order_by("moved_at", "pk")
    for record in _records(shop, list(open_jobs.values_list("pk", flat=True)[:_MOST])).values():
        _pull_job(pulled, record)
    _add_missing(shop, pulled)
    _with_parts(shop, pulled)
    first = _first_days(shop)
    rows = [_order_row(one, first) for one in pulled.values()]
    return [list(HEAD), *sorted(rows, key=lambda row: (row[0] == "", row[0], row[3]))]


def _add_missing(shop: Shop, pulled: dict[tuple[str, str], Pulled]) -> None:
    short = [job.pk for job, _ in jobs_short(shop) if job.state not in _TO_ORDER]
    for record in _records(shop, short).values():
        for one in job_shortages(record):
            note = one.shortage.note
            line = one.line or PullLine(f"text:{note}", "small", note or one.text, one.shortage.missing)
            pulled.setdefault((line.key, line.unit), Pulled(line)).add(record.job, one.shortage.missing)


def _first_days(shop: Shop) -> dict[int, date]:
    """Return the first booked day of each job."""
    rows = Booking.objects.of_shop(shop).exclude(state=Booking.State.OFF).order_by("-starts_on")
    return dict(rows.values_list("job", "starts_on"))


def _order_row(one: Pulled, first: dict[int, date]) -> list[str]:
    part, supplier = one.part, one.part.supplier if one.part else None
    quantity, unit = _as_sold(one)
    wait = part.waits_days if part else None
    days = [first[job.pk] for job, _ in one.jobs if job.pk in first]
    by = min(days) - timedelta(days=wait or 0) if days else None
    packs = math.ceil(quantity / float(part.pack_size) - 1e-9) if part and part.pack_size else None
    return [
        supplier.name if supplier else "", part.supplier_number if part else "", part.sku if part else "",
        part.name if part else one.line.text, f"{quantity:g}", unit, "" if packs is None else str(packs),
        f"{part.pack_size.normalize():f}" if part else "", "" if wait is None else str(wait),
        f"{by:%Y-%m-%d}" if by else "", ", ".join(dict.fromkeys(job.number for job, _ in one.jobs)),
    ]  # fmt: skip


def _as_sold(one: Pulled) -> tuple[float, str]:
    """Return quantity and unit as the catalog counts the part: lengths by the foot where it says so."""
    if one.line.unit != "m":
        return round(one.quantity, 3), one.line.unit
    if one.part is not None and one.part.unit.strip().lower() in _FEET:
        return round(one.quantity / M_PER_FT, 1), "ft"
    return round(one.quantity, 2), "m"


def days_around(shop: Shop, day: date) -> Iterator[date]:
    """Yield the booked days next before and after a day, where there are some."""
    days = HeldDay.objects.of_shop(shop).filter(bay__isnull=False)
    for found in (
        days.filter(day__lt=day).order_by("-day").first(), days.filter(day__gt=day).order_by("day").first()
    ):  # fmt: skip
        if found is not None:
            yield found.day
