"""View that puts a later design revision to work while the install is under way."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from checklists.forms.reason import ReasonForm
from checklists.office.plan_change import plan_change as change_plan
from checklists.office.plan_change_read import later_designs, later_revisions
from checklists.record.pages import checklist_or_404
from common.told import told_later
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@role_required("may_design")
@require_http_methods(["GET", "POST"])
def plan_change(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show what each later revision would ask anew; put one to work, with a reason."""
    checklist = checklist_or_404(request.user, job_pk)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    form.fields["reason"].help_text = told_later(
        "At least 15 characters. It is written in the log with your name."
    )
    if form.is_bound and form.is_valid():
        typed = request.POST.get("number", "")
        number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 6 else 0
        design = get_object_or_404(later_designs(checklist), number=number)
        try:
            change_plan(
                checklist=checklist,
                design=design,
                reason=form.cleaned_data["reason"],
                actor=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"Revision {design.number} is the plan now.")
            return redirect("checklists:checklist_detail", job_pk)
    context = {
        "job": checklist.job,
        "tab": "install",
        "checklist": checklist,
        "revisions": later_revisions(checklist),
        "form": form,
    }
    status = 422 if form.errors else 200
    return render(request, "checklists/plan_change.html", context, status=status)
