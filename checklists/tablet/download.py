"""Builds what a tablet downloads of one job: everything the work asks for, no price, no cost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any, Final

from django.contrib.auth.models import User

from checklists.forms.step import CAUSES
from checklists.models import Checklist, Deviation, Step
from checklists.office.overview import change_order_suggestions
from checklists.office.step import EXTRAS
from checklists.plan.roles import Role
from checklists.plan.steps import phases
from checklists.plan.templates import aliases
from checklists.record.circuits import circuit_rows
from checklists.record.contacts import contacts, emergency_number, people_of
from checklists.record.missed import stamp
from checklists.record.pages import to_take_along
from checklists.record.pull import GROUPS, pull_list
from checklists.record.read import Work, cautions_of, work_of
from checklists.record.roof import roof_measured, roof_plan
from checklists.rules.after_go import rests_on
from checklists.rules.choices import SUITED
from checklists.rules.holds import Holds
from checklists.rules.install import StepInfo
from checklists.sheet.one_line import one_line_svg
from checklists.sheet.summary import sheet_texts
from checklists.tablet.remembered import remembered
from checklists.texts.says import says_of_job
from common import units as trade
from common.told import in_english
from jobs.models import Job

#: The form of this answer; a tablet that reads another one asks to be updated.
FORM: Final = 1
_STEP_KEYS: Final = (
    "pk", "phase", "code", "subject", "title", "instruction", "fields", "card", "is_hold", "needs_lead",
    "is_in_scope", "can_be_overridden", "re_runs", "since_design",
)  # fmt: skip


def jobs_to_download(user: User) -> list[dict[str, Any]]:
    """Return the jobs in work that this person may download, newest first."""
    found = (
        to_take_along(user)
        .filter(job__state__in=[state for state in Job.State.values if Job(state=state).is_in_install])
        .select_related("job__vehicle__customer")
        .order_by("-opened_at", "-pk")
    )
    return [_heading(checklist.job) for checklist in found]


@in_english
def job_download(checklist: Checklist) -> dict[str, Any]:
    """Return the whole job for work without a network; events are asked for apart."""
    work = work_of(checklist)
    job, shop = checklist.job, checklist.job.shop
    return {
        "form": FORM,
        "stamp": stamp(checklist),
        "job": _heading(job)
        | {"asked_for": job.asked_for, "place": job.work_place, "is_in_install": job.is_in_install},
        "contacts": contacts(job, checklist.design),
        "emergency": emergency_number(shop),
        "people": people_of(shop),
        "pull": [asdict(line) for line in pull_list(checklist)],
        "pull_groups": [list(pair) for pair in GROUPS],
        "shop": {"name": shop.name, "units": shop.units, "time_zone": shop.time_zone},
        "design_number": checklist.design.number,
        "phases": [
            {
                "letter": each.letter,
                "role": each.role,
                "title": each.title,
                "is_inside": each.is_inside,
                "place": each.place,
                "safety": each.safety,
            }
            for each in phases(checklist.template_version).values()
        ],
        "steps": _steps(work),
        "template_version": checklist.template_version,
        "safety_ticks": work.install.safety_is_ticked,
        "aliases": aliases(checklist.template_version),
        "facts": checklist.facts,
        "units": dict(_units(work, shop.units)),
        "causes": [list(pair) for pair in CAUSES if pair[0]],
        "plan_svg": roof_plan(checklist),
        "roof": roof_measured(checklist),
        "one_line_svg": one_line_svg(work.system, work.result),
        "schedule": [_circuit(row) for row in circuit_rows(work)],
        "circuit_cautions": [asdict(each) for each in cautions_of(work.install, work.run)],
        "suited": SUITED,
        "findings": list(_findings(work)),
        "suggestions": [f"{step.code}: {words}" for step, words in change_order_suggestions(work)],
        "overrides": [_override(row) for row in work.overrides],
        "deviations": [_deviation(row) for row in work.deviations],
        "waiting_changes": [
            {"number": each.number, "locked_phases": list(each.locked_phases)}
            for each in work.install.waiting_changes
        ],
        "as_built": checklist.as_built,
        "as_built_problem": checklist.as_built_problem,
        "texts": sheet_texts(work),
        "remembered": remembered(shop),
        "says": says_of_job(shop, checklist.template_version),
    }


def _heading(job: Job) -> dict[str, Any]:
    vehicle = job.vehicle
    return {
        "pk": job.pk,
        "number": job.number,
        "title": job.title,
        "state": job.get_state_display(),
        "vehicle": str(vehicle),
        "plate": vehicle.plate,
        "vin_tail": vehicle.vin_tail,
        "customer": vehicle.customer.name,
    }


def _steps(work: Work) -> list[dict[str, Any]]:
    """Return every step with its role, by which the scripts ask for it."""
    infos = {step.pk: step for step in work.install.steps}
    return [_step(step) | said_of(infos[step.pk], work.holds) for step in work.checklist.steps.all()]


def _step(step: Step) -> dict[str, Any]:
    return {name: getattr(step, name) for name in _STEP_KEYS}


def said_of(step: StepInfo, holds: Holds) -> dict[str, Any]:
    """Return what the templates say of a step: its role, what it waits for, what it looks at, its safety."""
    needs = holds.needs(step)
    return {
        "role": step.role,
        "extra": EXTRAS.get(step.role, ""),
        "needs": [each.pk for each in needs.steps],
        "is_strict": needs.is_strict,
        "asks": [each.pk for each in holds.asks(step)],
        "rests": [each.pk for each in rests_on(holds.install.steps)] if step.role == Role.GO else [],
        "live": step.traits.is_live,
        "licensed": step.traits.is_licensed,
        "safety": list(step.traits.safety),
        "na_needs_lead": step.traits.na_needs_lead,
    }


def _units(work: Work, units: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield how the shop writes each unit that is asked for: ``shown = stored·factor + offset``."""
    asked = {spec.unit for step in work.install.in_scope for spec in step.specs}
    for unit in sorted(asked | {"m", "V", "A", "N·m"}):
        kind = trade.kind_of("m_run" if unit == "m" else unit)
        shown = kind.display(units)
        zero = trade.convert(0.0, kind.si_unit, shown.unit)
        yield (
            unit,
            {
                "label": shown.label,
                "factor": trade.convert(1.0, kind.si_unit, shown.unit) - zero,
                "offset": zero,
                "digits": shown.digits,
                "is_fraction": shown.style == "inches",
            },
        )


def _circuit(each: Mapping[str, Any]) -> dict[str, Any]:
    row = each["row"]
    return {
        "id": row.id,
        "from_to": row.from_to,
        "run_len_m": row.run_len_m,
        "size": row.size_words or row.size or "",
        "fuse_a": row.fuse_a,
        "fuse_place": row.fuse_place,
        "design_a": row.design_a,
        "ampacity_a": row.ampacity_a,
        "drop_fraction": row.drop_fraction,
        "disconnect": row.disconnect,
        "torque": row.torque_words,
        "verdict": str(row.verdict),
        "note": row.note,
        "changed": each["changed"],
        "planned": _planned(each["planned"]),
    }


def _planned(row: Any) -> dict[str, Any] | None:
    """Return what a circuit is set against: a value recorded on the tablet as planned is no change."""
    if row is None:
        return None
    return {"run_len_m": row.run_len_m, "size": row.size_words or row.size or "", "fuse_a": row.fuse_a}


def _findings(work: Work) -> Iterator[dict[str, str]]:
    """Yield what sizing says of the design beyond pass."""
    for check in work.result.checks:
        if str(check.verdict) != "pass":
            yield {"title": check.title, "verdict": str(check.verdict), "sentence": check.sentence}


def _override(row: Any) -> dict[str, Any]:
    return {"step": row.step_id, "by_name": row.by_name, "reason": row.reason, "covers": row.covers}


def _deviation(row: Deviation) -> dict[str, Any]:
    return {
        "pk": row.pk,
        "step": row.step_id,
        "key": row.check_key,
        "title": row.title,
        "sentence": row.sentence,
        "verdict": row.as_built_verdict,
        "value": row.as_built_value,
        "limit": row.limit,
        "unit": row.unit,
        "state": row.state,
        "blocks": row.blocks,
        "can_be_accepted": row.can_be_accepted,
    }
