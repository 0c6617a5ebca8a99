"""The pages of the sheet for what was not as planned: overrides, deviations, changes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

import sizing
from checklists.plan.roles import Role
from checklists.record.late import late_records
from checklists.record.read import Work, cautions_of
from checklists.record.wording import item_text
from checklists.rules.holds import OpenItem, cautions
from checklists.rules.install import Install
from checklists.rules.judging import LEADS
from checklists.rules.reducer import Event, canonical
from checklists.sheet.words import when
from jobs.design.noted import same_numbers
from jobs.models import ChangeOrder, NotedCheck


def record_sha256(work: Work) -> str:
    """Return the hash of every value that stands, so that the sheet's own hash moves with any of them."""
    standing = sorted(
        (str(event.id), event.step, event.field, canonical(event.value), str(event.photo or ""))
        for step in work.install.steps
        for event in (*work.install.state(step).standing, *work.install.state(step).notes)
    )
    return hashlib.sha256(json.dumps(standing).encode()).hexdigest()


def overrides(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each hold the owner let pass, with reason and what was open."""
    return [
        {
            "code": work.steps[row.step_id].code,
            "title": work.steps[row.step_id].title,
            "by": row.by_name,
            "reason": row.reason,
            "covers": row.covers,
            "at": when(row.at, zone),
        }
        for row in work.overrides
    ]


def deviations(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each deviation from the plan with what became of it, in the order they were raised."""
    return [
        {
            "title": row.title,
            "planned_value": row.planned_value,
            "as_built_value": row.as_built_value,
            "limit": row.limit,
            "unit": row.unit,
            "planned_verdict": row.planned_verdict,
            "as_built_verdict": row.as_built_verdict,
            "sentence": row.sentence,
            "state": row.get_state_display(),
            "decision": row.decision,
            "by": row.decided_by_name,
            "raised_at": when(row.raised_at, zone),
            "decided_at": when(row.decided_at, zone),
        }
        for row in sorted(work.deviations, key=lambda row: (row.raised_at, row.pk))
    ]


def change_orders(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return the change orders with their answers; no money on the sheet."""
    return [
        {
            "number": order.number,
            "cause": order.cause,
            "state": order.get_state_display(),
            "by": order.answered_by_name,
            "at": when(order.answered_at, zone),
            "locked_phases": order.locked_phases,
            "schedule_days": order.schedule_days,
        }
        for order in work.change_orders
    ]


def plan_changes(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each design revision that took the place of the plan during the install."""
    if work.checklist.design.number == 1:
        return []  # only a later revision takes the place of a plan: nothing to ask the database for
    return [
        {
            "from": row.from_design.number,
            "to": row.to_design.number,
            "by": row.by_name,
            "reason": row.reason,
            "at": when(row.at, zone),
        }
        for row in work.checklist.plan_changes.select_related("from_design", "to_design")
    ]


def refused(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return the recommendations the customer turned down, and what the owner decided."""
    return [
        {
            "number": order.number,
            "cause": order.cause,
            "by": order.answered_by_name,
            "at": when(order.answered_at, zone),
            "is_safety_critical": order.is_safety_critical,
            "owner_decision": order.owner_decision,
        }
        for order in work.change_orders
        if order.state == ChangeOrder.State.DECLINED
    ]


def noted(work: Work) -> list[dict[str, Any]]:
    """Return cautions and notes: told here, kept nothing shut."""
    rows = [
        {"code": step.code, "title": step.title, "sentence": sentence, "by": ""}
        for step, sentence in cautions(work.install)
    ]
    for step in work.install.in_scope:
        for event in work.install.state(step).notes:
            rows.append(
                {"code": step.code, "title": step.title, "sentence": str(event.value), "by": event.by_name}
            )
    return rows


def circuits_accepted(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each circuit that is a caution or lacks data, with who accepted it by name at the go."""
    said = {check.key: check for check in work.result.checks}
    rows = []
    for each in cautions_of(work.install, work.run):
        check = said.get(each.key)
        by = _accepted_by(work.install, each.name)
        rows.append(
            {
                "words": each.words,
                "sentence": check.sentence if check else "",
                "verdict": str(check.verdict) if check else "",
                "by": by.by_name if by else "",
                "role": _ROLES.get(by.by_role, "") if by else "",
                "at": when(by.done_at or by.received_at, zone) if by else "",
            }
        )
    return rows


def _accepted_by(install: Install, name: str) -> Event | None:
    """Return the lead's or owner's word for a circuit; nobody else's counts."""
    for step in install.of_role(Role.GO):
        for event in install.state(step)[f"caution_{name}"].standing:
            if event.value is True and event.by_role in LEADS:
                return event
    return None


_ROLES: Final = {"owner": "owner", "lead_technician": "lead technician"}


def noted_checks(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return each verdict of the plan that a person took note of, and what it came to as built."""
    built = {check.key: check for check in work.result.checks}
    return [
        {
            "title": note.title,
            "verdict": note.verdict,
            "value": note.value,
            "limit": note.limit,
            "unit": note.unit,
            "reason": note.reason,
            "by": note.by_name,
            "at": when(note.at, zone),
            "as_built": _as_built(note, built.get(note.check_key)),
        }
        for note in work.checklist.design.noted_checks.all()
    ]


def _as_built(note: NotedCheck, check: sizing.Check | None) -> dict[str, Any] | None:
    """Return what a noted check says as built; ``None`` where it says the same."""
    if check is None or same_numbers(note, check):
        return None
    return {"verdict": str(check.verdict), "value": check.value, "unit": check.unit}


def recorded_while_locked(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return what was recorded while its step was locked, in the order of the work."""
    late = late_records(work)
    rows = (event for event in work.events if event.pk in late)
    return [
        {
            "code": work.steps[event.step_id or 0].code,
            "title": work.steps[event.step_id or 0].title,
            "by": event.by_name,
            "at": when(event.done_at, zone),
            "received": when(event.received_at, zone) if event.came_late else "",
            "why": list(late[event.pk]),
        }
        for event in sorted(rows, key=lambda event: (event.done_at, event.serial))
    ]


def open_items(work: Work) -> list[dict[str, Any]]:
    """Return everything that keeps a hold shut, save the signatures themselves."""
    units = work.checklist.job.shop.units
    return [
        {
            "code": item.step.code,
            "title": item.step.title,
            "sentence": item_text(item, units),
            "lacks": item.lacks,
        }
        for item in _open(work)
    ]


def _open(work: Work) -> Iterator[OpenItem]:
    seen: set[str] = set()
    for hold in work.holds.all():
        for item in hold.items:
            is_signature = hold.step.role == item.step.role == Role.SIGN_OFF
            if item.key not in seen and not item.is_echo and not is_signature:
                seen.add(item.key)
                yield item


def photos(work: Work, zone: str) -> list[dict[str, Any]]:
    """Return the pictures that stand, each once with all it shows, in the order of the work."""
    originals = {event.photo_id: event.original_sha256 for event in work.events}  # type: ignore[attr-defined]  # the query adds it
    shown: dict[Any, dict[str, Any]] = {}
    for step in work.install.in_scope:
        labels = {spec.name: spec.label for spec in work.install.specs(step)}
        for name, state in work.install.state(step).fields.items():
            for event in state.in_order:
                if event.photo is None:
                    continue
                caption = f"{step.code} {step.title}: {labels.get(name, name)}"
                if event.photo in shown:  # one picture serves several fields
                    _caption_also(shown[event.photo], caption)
                else:
                    shown[event.photo] = {
                        "id": str(event.photo),
                        "code": step.code,
                        "caption": caption,
                        "by": event.by_name,
                        "at": when(event.done_at or event.received_at, zone),
                        "original_sha256": originals[event.photo],
                    }
    return list(shown.values())


def _caption_also(photo: dict[str, Any], caption: str) -> None:
    if caption not in (photo["caption"], *photo.get("also", ())):
        photo.setdefault("also", []).append(caption)


def accepted_quote(work: Work, zone: str) -> dict[str, Any]:
    """Return which quote was accepted, by its number and hash, and what it left out."""
    facts = work.checklist.facts["quote"]
    at = datetime.fromisoformat(facts["at"]) if facts["at"] else None
    return {**facts, "at": when(at, zone)}
