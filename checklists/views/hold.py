"""View of the owner's override of a hold."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from checklists.forms.reason import ReasonForm
from checklists.record.override import hold_override as override
from checklists.record.pages import step_for_page
from checklists.record.read import work_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
@require_http_methods(["GET", "POST"])
def hold_override(request: ShopRequest, pk: int) -> HttpResponse:
    """Ask the owner why, and let the hold pass for what is open now."""
    row = step_for_page(request.user, pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            override(step=row, reason=form.cleaned_data["reason"], actor=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("checklists:step_detail", row.pk)
    work = work_of(row.checklist)
    hold = next((found for found in work.holds.all() if found.step.pk == row.pk), None)
    context = {"job": row.checklist.job, "tab": "install", "step": row, "hold": hold, "form": form}
    status = 422 if form.errors else 200
    return render(request, "checklists/hold_override.html", context, status=status)
