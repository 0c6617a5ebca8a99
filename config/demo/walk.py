"""Walks an install of the demo: phase by phase, through the services a technician's tablet uses.

What is recorded is what a careful technician would read on an ordinary day; nothing is written past a lock.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from checklists.models import Checklist
from checklists.photos.photos import photo_keep
from checklists.record.events import events_record
from checklists.record.read import Work, work_of
from checklists.rules.entries import Entry
from checklists.rules.install import StepInfo
from checklists.rules.reducer import SAFETY
from checklists.sheet.draft import sheet_draft
from checklists.sheet.issue import sheet_issue
from checklists.sheet.sign import sheet_sign
from config.demo.photos import photo_of
from config.demo.values import CHOICES, NUMBERS, TEXTS

#: On which day of the work, and at which hour of the shop's clock, a phase begins.
HOURS: Final = {
    "A": (0, 8), "B": (0, 9), "C": (0, 10), "D": (0, 12), "E": (1, 8), "F": (1, 10), "G": (1, 13),
    "H": (2, 8), "I": (2, 10), "J": (2, 11), "K": (2, 12), "L": (3, 13), "M": (3, 15),
}  # fmt: skip
_ROUND: Final = dt.timedelta(minutes=6)
#: What is offered beside “does not apply”: a step that is done leaves it alone.
_LEFT: Final = ("not_here", "not_here_why", "not_here_photo", "not_here_visit")
#: Two strokes as a finger draws them.
STROKES: Final = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 40"><path d="M 5 30 C 20 5, 60 50, 95 10"'
    ' stroke-width="2" stroke="#1c2224" fill="none"/></svg>'
)


@dataclass(frozen=True)
class Day:
    """Whose work it is, when it began, and what was found other than usual, by role and field."""

    lead: User
    second_name: str
    begins: dt.datetime
    found: Mapping[str, Any] = field(default_factory=dict)

    def hour_of(self, phase: str, zone: str) -> dt.datetime:
        """Return when a phase begins, by the shop's clock."""
        days, hour = HOURS[phase]
        first = self.begins.astimezone(ZoneInfo(zone)).replace(hour=hour, minute=0, second=0, microsecond=0)
        return first + dt.timedelta(days=days)


def walk(checklist: Checklist, day: Day, phases: str, *, until: str = "") -> None:
    """Record the phases in order; stop before the step called ``until``."""
    work, zone = work_of(checklist), checklist.job.shop.time_zone
    for phase in phases:
        at = day.hour_of(phase, zone)
        for steps in _rounds(work, phase, until):
            entries = [*_lines_read(steps, at)]
            for step in steps:
                entries += _entries(work, step, day, at)
            work = events_record(
                checklist=checklist, entries=entries, actor=day.lead, at=at, refuse_locked=True, seen=work
            ).work
            at += _ROUND


def _rounds(work: Work, phase: str, until: str) -> Iterator[list[StepInfo]]:
    """Yield the steps that can be done in one go: none waits for another of the same round."""
    found: list[StepInfo] = []
    for step in work.install.of_phase(phase):
        if step.role == until:
            break
        if {each.pk for each in work.holds.needs(step).steps} & {each.pk for each in found}:
            yield found
            found = []
        found.append(step)
    if found:
        yield found


def _lines_read(steps: list[StepInfo], at: dt.datetime) -> Iterator[Entry]:
    if steps[0].traits.safety:
        yield Entry(id=uuid.uuid4(), step=steps[0].pk, verb=SAFETY, value=f"{at:%Y-%m-%d}")


def _entries(work: Work, step: StepInfo, day: Day, at: dt.datetime) -> Iterator[Entry]:
    job = work.checklist.job
    for spec in work.install.specs(step):
        if spec.is_photo:
            for number in range(1, 1 + (spec.count if spec.required else 0)):
                picture = photo_of(step.code, f"{step.title} {spec.name}", number)
                photo = photo_keep(checklist=work.checklist, picture=picture, actor=day.lead, at=at)
                yield Entry(id=uuid.uuid4(), step=step.pk, field=spec.name, photo=photo.pk)
            continue
        value = _value(step, spec, day, at, job.vehicle.customer.name)
        if value is not None:
            yield Entry(id=uuid.uuid4(), step=step.pk, field=spec.name, value=value)


def _value(step: StepInfo, spec: Any, day: Day, at: dt.datetime, customer: str) -> Any:
    """Return what is recorded at a field; None leaves it blank."""
    key = f"{step.role}.{spec.name}"
    if spec.name in _LEFT:
        return None
    if key in day.found:
        return day.found[key]
    subject = f"{key} {step.subject}"
    if subject in NUMBERS:
        return NUMBERS[subject]
    named = {
        "licensed_person.licensed_name": day.lead.get_full_name(),
        "second_person.second_person": day.second_name,
    }
    if key in named:
        return named[key]
    if spec.kind == "signature":
        return {"name": customer, "ink": ""}
    return _by_kind(key, step, spec, at)


def _by_kind(key: str, step: StepInfo, spec: Any, at: dt.datetime) -> Any:
    match spec.kind:
        case "tick":
            return True
        case "lines":
            return ",".join(name for name, _ in spec.lines)
        case "several":
            return "none"
        case "number":
            return _number(key, spec)
        case "serial":
            return f"{step.code}{step.subject_name or 1}-{step.pk % 9000 + 1000}".replace(" ", "")
        case "choice":
            return CHOICES.get(key, spec.expected or (spec.accept or (spec.choices[0][0],))[0])
    if spec.format in {"date", "month"}:
        return f"{at:%Y-%m-%d}" if spec.format == "date" else f"{at.year + 1}-06"
    return TEXTS.get(key, spec.expected or "as it should be")


def _number(key: str, spec: Any) -> float | int | None:
    if key in NUMBERS:
        return NUMBERS[key]
    if spec.tick is not None:
        return int(spec.tick)
    if spec.expected is not None:
        return float(spec.expected)
    if spec.low is not None and spec.high is not None:
        return round(float(spec.low + spec.high) / 2, 1)
    if spec.low is not None:
        return float(spec.low + 1)
    return float(spec.min) if spec.required and spec.min is not None else None


def sign_and_issue(checklist: Checklist, day: Day, owner: User) -> None:
    """Have everybody sign the sheet who has to, then issue it: the job is released."""
    at = day.hour_of("M", checklist.job.shop.time_zone) + dt.timedelta(minutes=50)
    names = {"customer": checklist.job.vehicle.customer.name, "owner": owner.get_full_name()}
    draft = sheet_draft(checklist)
    for part in draft.required:
        sheet_sign(
            checklist=checklist,
            part=part,
            printed_name=names.get(part, day.lead.get_full_name()),
            signature_svg=STROKES,
            content_sha256=draft.content_sha256,
            actor=owner if part == "owner" else day.lead,
            at=at,
        )
    sheet_issue(checklist=checklist, actor=owner, at=at + _ROUND)
