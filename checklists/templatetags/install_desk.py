"""Gives the pages of jobs what an install tells the office: hours so far, and parts that are missing."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import template

from checklists.models import Checklist
from checklists.office.hours import hours_page
from checklists.record.loads import job_shortages, jobs_short
from jobs.models import Job, Shop

register = template.Library()


@register.simple_tag
def install_desk(job: Job, now: datetime) -> dict[str, Any] | None:
    """Return hours and shortages of a job; None while it has no install."""
    checklist = Checklist.objects.filter(job=job).select_related("job__shop", "run").first()
    if checklist is None:
        return None
    page = hours_page(checklist, now)
    return {"hours": page["total"], "running": page["running"], "asked": page["asked"]} | {
        "missing": job_shortages(checklist)
    }


@register.simple_tag
def shop_shortages(shop: Shop) -> list[tuple[Job, int]]:
    """Return the jobs of a shop on which parts are missing."""
    return jobs_short(shop)
