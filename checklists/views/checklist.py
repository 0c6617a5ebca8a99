"""Views of the install overview and the roof plan beside it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

from checklists.models import Checklist
from checklists.office.overview import overview
from checklists.office.plan_change_read import later_designs
from checklists.plan.roles import Role
from checklists.record.pages import checklist_for_page, checklist_or_404, job_for_page
from checklists.record.read import work_of
from checklists.record.roof import roof_plan
from checklists.rules.seals import seal_count
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
        "later": request.membership.may_design and later_designs(checklist).first(),
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
        "plan": mark_safe(roof_plan(checklist)),  # noqa: S308 - drawn by us
        "extra": seal_count(work.install) if work.install.of_role(Role.SEAL_COUNT) else None,
    }
    return render(request, "checklists/checklist_plan.html", context)


def signed_parts(checklist: Checklist) -> frozenset[str]:
    """Return who has signed, once the sheet is out; before that signatures stand on the sign-off page."""
    if checklist.job.is_in_install:
        return frozenset()
    return frozenset(checklist.sign_offs.values_list("part", flat=True))
