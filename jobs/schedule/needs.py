"""What a job needs of the schedule: hours, roof, license, waits; read from the quote it was sold by."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from jobs.models import Job, LineKind, Quote, QuoteLine
from jobs.quote.labour import LabourCode, codes_of
from jobs.quote.lines import HOUR
from jobs.schedule.days import one_person_hours

#: What to tell and to watch, whichever day it is. From the trade's common practice; the maker's label wins.
WEATHER: Final = (
    "Lifting panels: wind under ‹32 km/h|20 mph›, alone under ‹24 km/h|15 mph›.",
    "Sealing: roof dry, air at or above what the label of the tube asks, no rain for 12 hours after it, roof"
    " at least ‹3 °C|5 °F› warmer than the dew point.",
    "Tape and knees: roof surface under ‹60 °C|140 °F›; on hot days the roof from 6 to 11 in the morning.",
    "Lightning within ‹16 km|10 mi›: everybody off the roof.",
)


_ORDERED: Final = (
    Job.State.PARTS_ORDERED, Job.State.READY, Job.State.IN_WORK, Job.State.PAUSED, Job.State.COMMISSIONING,
    Job.State.CURE_WAIT,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Needs:
    """What is to be done on a job, as far as it is priced; ``quote`` is the accepted one, else the newest."""

    quote: Quote | None
    hours: Decimal = Decimal(0)
    roof_hours: Decimal = Decimal(0)
    extra_days: int = 0
    is_bonded: bool = False
    licence_tasks: tuple[str, ...] = ()
    subcontracts: tuple[str, ...] = ()
    late_parts: tuple[tuple[str, int], ...] = field(default=())

    @property
    def is_sold(self) -> bool:
        """Return whether the customer said yes."""
        return self.quote is not None and self.quote.is_accepted

    @property
    def inside_hours(self) -> Decimal:
        """Return the hours that can go on while the roof rests."""
        return self.hours - self.roof_hours

    @property
    def slowest(self) -> list[str]:
        """Return the parts that come last."""
        return [name for name, days in self.late_parts if days == self.longest_wait]

    @property
    def longest_wait(self) -> int:
        """Return the days until the last part can be here; 0 where none has a lead time."""
        return max((days for _, days in self.late_parts), default=0)


def needs_of(job: Job) -> Needs:
    """Return what a job needs."""
    quotes = job.quotes.select_related("design").order_by("-number")
    quote = quotes.filter(state=Quote.State.ACCEPTED).first() or quotes.first()
    if quote is None:
        return Needs(None)
    lines = [line for line in quote.lines.select_related("part__supplier") if is_chosen(quote, line)]
    labour = [line for line in lines if line.kind == LineKind.LABOUR and line.unit == HOUR]
    codes = codes_of(job.shop)
    roof = [line for line in labour if line.code in codes and codes[line.code].is_roof]
    return Needs(
        quote,
        hours=one_person_hours(labour),
        roof_hours=one_person_hours(roof),
        extra_days=_extra_days(job),
        is_bonded=quote.design.panels.filter(feet=0).exists(),
        licence_tasks=tuple(one.task for one in _codes(codes, labour) if one.needs_licence),
        subcontracts=tuple(line.text for line in lines if line.kind == LineKind.SUBCONTRACT),
        late_parts=_late_parts(job, lines),
    )


def is_chosen(quote: Quote, line: QuoteLine) -> bool:
    """Return whether a line is part of what was sold; an option is when the customer ticked it."""
    return not line.is_optional or line.position in quote.chosen_positions


def _codes(codes: dict[str, LabourCode], lines: list[QuoteLine]) -> list[LabourCode]:
    found = {line.code: codes[line.code] for line in lines if line.code in codes}
    return list(found.values())


def _late_parts(job: Job, lines: list[QuoteLine]) -> tuple[tuple[str, int], ...]:
    """Return the parts that take time to come; none once they are ordered: the order says its own day."""
    if job.state in _ORDERED:
        return ()
    return tuple((line.part.name, days) for line in lines if line.part and (days := _lead_days(line)))


def _lead_days(line: QuoteLine) -> int:
    """Return the days a part takes to come, where the catalog says so."""
    return (line.part.waits_days if line.part else None) or 0


def _extra_days(job: Job) -> int:
    """Return the days that signed change orders add."""
    signed = job.change_orders.filter(state="accepted")
    return sum(signed.values_list("schedule_days", flat=True))
