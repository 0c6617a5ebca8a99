"""Answers for the install overview and the roof plan beside it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from checklists.models import Checklist
from checklists.seals import seal_count
from checklists.selectors.install import Work, work_of
from checklists.selectors.overview import overview
from checklists.selectors.pages import checklist_for_page, checklist_or_404, job_for_page
from jobs.roof_plan import plan_svg
from jobs.selectors.design import design_in_full
from jobs.views.access import ShopRequest, member_required


@member_required
@require_GET
def checklist_detail(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show the phases of an install: how far, what is locked and why, what to do next."""
    checklist = checklist_for_page(request.user, job_pk)
    if checklist is None:
        job = job_for_page(request.user, job_pk)
        return render(request, "checklists/checklist_closed.html", {"job": job, "tab": "install"})
    work = work_of(checklist, signed_parts=signed_parts(checklist))
    context = overview(work) | {
        "job": checklist.job,
        "checklist": checklist,
        "tab": "install",
        "may_record": request.membership.may_install and checklist.job.is_in_install,
    }
    return render(request, "checklists/checklist_detail.html", context)


@member_required
@require_GET
def checklist_plan(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show the roof plan as built, with the count of holes."""
    checklist = checklist_or_404(request.user, job_pk)
    work = work_of(checklist)
    context = {
        "job": checklist.job,
        "tab": "install",
        "plan": roof_plan(work, request.shop.units),
        "extra": seal_count(work.install) if work.install.of_code("D12") else None,
    }
    return render(request, "checklists/checklist_plan.html", context)


def roof_plan(work: Work, units: str) -> str:
    """Return the drawing of the roof as built; as planned where the values cannot be drawn."""
    design = design_in_full(work.checklist.design_id)
    built = None if work.checklist.as_built_problem else work.checklist.as_built
    return mark_safe(plan_svg(design, shop_units=units, as_built=built or None))  # noqa: S308 - drawn by us


def signed_parts(checklist: Checklist) -> frozenset[str]:
    """Return who has signed, once the sheet is out; before that signatures stand on the sign-off page."""
    if checklist.job.is_in_install:
        return frozenset()
    return frozenset(checklist.sign_offs.values_list("part", flat=True))
