"""Views of the hours of an install: plan against actual, and hours put right by hand."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from checklists.forms.hours import HoursForm
from checklists.models import Checklist
from checklists.office.hours import hours_correct, hours_page, span_of
from checklists.record.pages import checklist_or_404
from checklists.rules.clocks import Span
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@member_required
@require_GET
def hours(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show the hours of a job by phase and person, and every clock that ran."""
    checklist = checklist_or_404(request.user, job_pk)
    context = hours_page(checklist, timezone.now()) | {
        "job": checklist.job,
        "tab": "install",
        "may_record": request.membership.may_install,
    }
    return render(request, "checklists/hours.html", context)


@role_required("may_install")
@require_http_methods(["GET", "POST"])
def hours_by_hand(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Put one clock right (``?clock=``), or write down hours that no clock ran for."""
    checklist = checklist_or_404(request.user, job_pk)
    clock = _clock(checklist, request.GET.get("clock", ""))
    form = HoursForm(request.POST if request.method == "POST" else None, checklist=checklist, clock=clock)
    if form.is_bound and form.is_valid():
        try:
            hours_correct(
                checklist=checklist,
                worked=form.worked(),
                submission=form.cleaned_data["submission"],
                actor=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "The hours are put right; what the clock ran is kept.")
            return redirect("checklists:hours", job_pk)
    context = {"job": checklist.job, "tab": "install", "form": form, "clock": clock}
    return render(request, "checklists/hours_by_hand.html", context, status=422 if form.errors else 200)


def _clock(checklist: Checklist, named: str) -> Span | None:
    """Return the clock that is named; 404 for one this job does not have."""
    if not named:
        return None
    try:
        found = span_of(checklist, UUID(named))
    except ValueError:
        found = None
    if found is None:
        raise Http404("no such clock on this job")
    return found
