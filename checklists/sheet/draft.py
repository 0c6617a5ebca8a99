"""Puts a job sheet together: the content that is signed, its hash, whose names are missing."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from checklists.models import Checklist, SignOff, is_apart
from checklists.plan.roles import Role, printed_on
from checklists.record.read import Work, work_of
from checklists.record.roof import roof_plan
from checklists.rules.holds import required_signatures
from checklists.sheet import electric, record, roof, summary
from checklists.sheet.again import read_again
from checklists.sheet.differs import built_otherwise
from checklists.sheet.one_line import one_line_svg
from checklists.sheet.words import recorded_rows, when
from common.told import in_english
from jobs.engine.spoken import spoken

SHEET_VERSION = "1"


@dataclass(frozen=True, slots=True)
class Draft:
    """A job sheet as it stands: content, hash, and what it still lacks to be released."""

    work: Work
    content: dict[str, Any]
    content_sha256: str
    signatures: tuple[SignOff, ...]
    not_standing: tuple[SignOff, ...]
    required: tuple[str, ...]

    @property
    def missing_parts(self) -> tuple[str, ...]:
        """Return whose signature under this very content is missing."""
        have = {signature.part for signature in self.signatures}
        return tuple(part for part in self.required if part not in have)

    @property
    def is_released(self) -> bool:
        """Return whether everything is closed and everybody has signed this content."""
        return not self.content["open"] and not self.missing_parts

    @property
    def open_steps(self) -> list[tuple[str, str, str]]:
        """Return code and title of each open step and all that is open there, in words."""
        by_step: dict[tuple[str, str], list[dict[str, str]]] = {}
        for item in self.content["open"]:
            by_step.setdefault((item["code"], item["title"]), []).append(item)
        return [(code, title, _joined(found)) for (code, title), found in by_step.items()]

    @property
    def missing(self) -> list[str]:
        """Return what is lacking, in words, as the unreleased sheet lists it."""
        labels = dict(SignOff.Part.choices)
        return [f"{code} {title}: {words}" for code, title, words in self.open_steps] + [
            f"Signature missing: {labels[part]}" for part in self.missing_parts
        ]


def _joined(items: list[dict[str, str]]) -> str:
    """Return what is open at one step in one line: ``Serial, Rest voltage: missing``."""
    blank = [item["lacks"] for item in items if item["lacks"]]
    other = [item["sentence"] for item in items if not item["lacks"]]
    return "; ".join([*([f"{', '.join(blank)}: missing"] if blank else []), *other])


@in_english
def sheet_draft(checklist: Checklist) -> Draft:
    """Return the sheet as it stands, with the signatures that hold for this content."""
    work = work_of(checklist, whole=True)
    content = _content(work)
    digest = content_sha256(content)
    given = tuple(checklist.sign_offs.all())
    return Draft(
        work=work,
        content=content,
        content_sha256=digest,
        signatures=tuple(row for row in given if not row.problem and row.content_sha256 == digest),
        not_standing=tuple(row for row in given if row.problem),
        required=required_signatures(work.install, work.holds),
    )


def content_sha256(content: dict[str, Any]) -> str:
    """Return the hash of a sheet's content; the order of its keys does not matter."""
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _content(work: Work) -> dict[str, Any]:
    checklist, job, install = work.checklist, work.checklist.job, work.install
    zone, units = job.shop.time_zone, job.shop.units
    circuits = electric.schedule(work)
    content = {
        "sheet_version": SHEET_VERSION,
        "head": _head(work),
        "dates": _dates(work, zone),
        "key_numbers": summary.key_numbers(work),
        "done": summary.what_was_done(work),
        "energy": summary.energy(work),
        "roof_plan_svg": roof_plan(checklist),
        "holes": roof.holes(install) if install.of_role(Role.SEAL_COUNT) else None,
        "seals": roof.seal_record(install, zone) if install.of_role(Role.SEAL_UNDER) else None,
        "leak": roof.leak_test(install, zone, units) if install.of_role(Role.LEAK_TEST) else None,
        "one_line_svg": one_line_svg(work.system, work.result),
        "circuits": circuits,
        "circuits_differ": any(row["differs"] for row in circuits),
        "equipment": summary.equipment(work),
        "arrival": recorded_rows(install, printed_on("arrival", install.template), units),
        "built": recorded_rows(install, printed_on("built", install.template), units),
        "strings": electric.strings(work),
        "readings": electric.readings(work),
        "settings": electric.settings(work),
        "charge_sum": electric.charge_sum(work),
        "weight": summary.weight(work),
        "findings": electric.findings(work),
        "overrides": record.overrides(work, zone),
        "deviations": record.deviations(work, zone),
        "noted": record.noted(work),
        "circuits_accepted": record.circuits_accepted(work, zone),
        "read_again": read_again(work, zone),
        "differs": built_otherwise(work),
        "late": record.recorded_while_locked(work, zone),
        "refused": record.refused(work, zone),
        "plan_changes": record.plan_changes(work, zone),
        "change_orders": record.change_orders(work, zone),
        "quote": record.accepted_quote(work, zone),
        "photos": record.photos(work, zone),
        "open": record.open_items(work),
        "as_built_problem": checklist.as_built_problem,
        "record_sha256": record.record_sha256(work),
        "texts": summary.sheet_texts(work),
    }
    looked_at = record.noted_checks(work, zone)
    if looked_at:  # a sheet without any keeps the hash it was signed with
        content["noted_checks"] = looked_at
    # What is hashed is what is stored and read: in one system of units.
    stored: dict[str, Any] = spoken(json.loads(json.dumps(content)), units)
    return stored


def _head(work: Work) -> dict[str, Any]:
    job, shop, vehicle = work.checklist.job, work.checklist.job.shop, work.checklist.job.vehicle
    design = work.checklist.design
    return {
        "shop": {
            "name": shop.name,
            "address": shop.address,
            "phone": shop.phone,
            "email": shop.email,
            "licence": shop.licence_text,
            "insurance": shop.insurance_text,
            "units": shop.units,
        },
        "job": {
            "number": job.number,
            "title": job.title,
            "asked_for": job.asked_for,
            "place": job.work_place,
        },
        "customer": {"name": vehicle.customer.name},
        "vehicle": {
            "text": str(vehicle),
            "kind": vehicle.get_kind_display(),
            "vin": vehicle.vin,
            "vin_tail": vehicle.vin_tail,
            "plate": vehicle.plate,
        },
        "design": {
            "number": design.number,
            "option": design.get_option_display(),
            "rule_set": work.result.rule_set_title,
            "engine_version": work.result.engine_version,
            "table_editions": list(work.result.table_editions),
        },
    }


def _dates(work: Work, zone: str) -> dict[str, str]:
    moments = [min(event.done_at, event.received_at) for event in work.events]
    received = max((event.received_at for event in work.events), default=None)
    last = max(moments, default=None)
    return {
        "opened": when(work.checklist.opened_at, zone),
        "first_record": when(min(moments, default=None), zone),
        "last_record": when(last, zone),
        "last_received": when(received, zone) if is_apart(last, received) else "",
    }
