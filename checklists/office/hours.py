"""Hours of an install for the office: plan against actual by phase and person, put right by hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.contrib.auth.models import User

from checklists.models import Checklist
from checklists.plan.steps import Phase, phases
from checklists.record.events import Recorded, events_record
from checklists.record.hours import job_spans
from checklists.rules.clocks import CORRECT, Span, overlaps
from checklists.rules.entries import Entry
from checklists.rules.job_entries import Worked
from common.told import in_english
from jobs.models import ChangeOrder, LineKind, Quote
from jobs.quote.lines import HOUR

#: Which phase an hour of a labor code is worked in, by the role of the phase; of several the first that the
#: job's list has. Common practice, no source. A code that is not here belongs to no single phase.
_PHASE_OF: Final[Mapping[str, tuple[str, ...]]] = {
    "L01": ("check_in", "arrival"), "L02": ("mount_seal", "mount"), "L03": ("layout",),
    "L04": ("mount_seal", "mount"), "L05": ("mount_seal", "mount"), "L06": ("mount_seal", "mount"),
    "L07": ("mount_seal", "mount"), "L08": ("mount_seal", "mount"), "L09": ("roof_wiring",),
    "L10": ("inside_runs", "home_run"), "L11": ("inside_runs", "home_run"),
    "L12": ("battery_dc", "battery"), "L13": ("battery_dc", "battery"), "L14": ("battery_dc", "battery"),
    "L15": ("ac_wiring", "inverter"), "L16": ("ac_wiring", "inverter"), "L17": ("ac_wiring", "sources"),
    "L18": ("battery_dc", "sources"), "L19": ("battery_dc", "sources"), "L20": ("ac_wiring", "inverter"),
    "L21": ("battery_dc", "battery"), "L22": ("battery_dc", "battery"),
    "L23": ("close_out", "before_energising"), "L24": ("sources_on", "commissioning"),
    "L25": ("handover",), "L26": ("mount_seal", "mount"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PhaseHours:
    """One phase: hours planned by the list, sold by the quote (None: nothing sold), and worked by person."""

    letter: str
    title: str
    plan_h: float | None
    sold_h: float | None
    by_person: tuple[float, ...]

    @property
    def actual_h(self) -> float:
        """Return the hours of everybody."""
        return sum(self.by_person)

    @property
    def measure_h(self) -> float | None:
        """Return what the hours are held against: those sold, else those of the list."""
        return self.plan_h if self.sold_h is None else self.sold_h

    @property
    def over_h(self) -> float | None:
        """Return how far the work is over; below zero it is under."""
        return None if self.measure_h is None else self.actual_h - self.measure_h

    @property
    def under_h(self) -> float | None:
        """Return the hours that are left."""
        return None if self.over_h is None else -self.over_h


def hours_page(checklist: Checklist, now: datetime) -> dict[str, Any]:
    """Return what the hours page prints."""
    spans = job_spans(checklist)
    names = dict(sorted(((span.who, span.name) for span in spans), key=lambda one: one[1]))
    rows = tuple(_rows(checklist, spans, list(names), now))
    return {
        "people": list(names.values()),
        "rows": rows,
        "total": _total(rows, len(names)),
        "spans": [(span, span.hours(now), span.is_asked(now)) for span in reversed(spans)],
        "overlaps": overlaps(spans, now),
        "asked": [span for span in spans if span.is_asked(now)],
        "running": [span for span in spans if span.is_running],
    }


def _rows(
    checklist: Checklist, spans: tuple[Span, ...], who: list[int], now: datetime
) -> Iterator[PhaseHours]:
    """Yield the phases of the job, then what belongs to none of them."""
    found = phases(checklist.template_version)
    sold = _sold(checklist, found)
    asked = set(checklist.steps.filter(is_in_scope=True).order_by().values_list("phase", flat=True))
    for letter, phase in found.items():
        worked = _worked(spans, letter, who, now)
        plan_h = phase.planned_h if letter in asked else None
        if letter in asked or letter in sold or any(worked):
            yield PhaseHours(letter, phase.title, plan_h, sold.get(letter), worked)
    others = [letter for letter in {span.phase for span in spans} if letter not in found]
    if "" in sold or others:
        worked = tuple(map(sum, zip(*(_worked(spans, each, who, now) for each in others), strict=True)))
        yield PhaseHours("", "No single phase", None, sold.get(""), worked or (0.0,) * len(who))


def _worked(spans: tuple[Span, ...], letter: str, who: list[int], now: datetime) -> tuple[float, ...]:
    own = [span for span in spans if span.phase == letter]
    return tuple(sum(span.hours(now) for span in own if span.who == each) for each in who)


def _sold(checklist: Checklist, found: Mapping[str, Phase]) -> dict[str, float]:
    """Return the hours sold by phase, of every pair both people; an empty letter where no one phase fits."""
    quote = Quote.objects.filter(job=checklist.job_id, state=Quote.State.ACCEPTED).first()
    orders = ChangeOrder.objects.filter(job=checklist.job_id, state=ChangeOrder.State.ACCEPTED)
    lines = [*(quote.lines.all() if quote else ()), *(line for order in orders for line in order.lines.all())]
    letters = {str(phase.role): letter for letter, phase in found.items()}
    sold: dict[str, float] = {}
    for line in lines:
        if line.kind == LineKind.LABOUR and line.unit == HOUR and not line.is_optional:
            roles = _PHASE_OF.get(line.code, ())
            letter = next((letters[role] for role in roles if role in letters), "")
            sold[letter] = sold.get(letter, 0.0) + float(line.quantity) * (2 if line.is_pair else 1)
    return sold


def _total(rows: tuple[PhaseHours, ...], people: int) -> PhaseHours:
    def summed(values: list[float | None]) -> float | None:
        known = [value for value in values if value is not None]
        return sum(known) if known else None

    by_person = tuple(sum(row.by_person[place] for row in rows) for place in range(people))
    plan_h, sold_h = summed([row.plan_h for row in rows]), summed([row.sold_h for row in rows])
    return PhaseHours("", "All", plan_h, sold_h, by_person)


def span_of(checklist: Checklist, name: UUID) -> Span | None:
    """Return one clock of the job by its id."""
    return next((span for span in job_spans(checklist) if span.id == name), None)


@in_english
def hours_correct(
    *, checklist: Checklist, worked: Worked, submission: UUID, actor: User, at: datetime
) -> Recorded:
    """Put hours right by hand, with a reason; what the clock ran is kept. The same form twice is once."""
    value: dict[str, Any] = {"from": worked.start.isoformat(), "to": worked.end.isoformat()}
    if worked.clock is not None:
        value["start"] = str(worked.clock)
    else:
        value |= {"who": worked.who, "name": worked.name}
    entry = Entry(
        id=submission, step=0, verb=CORRECT, field=worked.phase, value=value, cause=worked.reason,
        claimed_at=at,
    )  # fmt: skip
    return events_record(checklist=checklist, entries=[entry], actor=actor, at=at)
