"""Views of a deviation: what was planned, what was built, the remedies, the owner's decision."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from checklists.forms.reason import ReasonForm
from checklists.models import Deviation
from checklists.record.deviations import deviation_accept
from checklists.record.options import options_of
from checklists.record.pages import deviation_for_page
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, must_hold


@member_required
@require_http_methods(["GET", "POST"])
def deviation_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a deviation with its options; the owner may let it stand, with a reason."""
    row = deviation_for_page(request.user, pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        must_hold(request, "is_owner")
        if form.is_valid():
            try:
                deviation_accept(
                    deviation=row,
                    reason=form.cleaned_data["reason"],
                    actor=request.user,
                    at=timezone.now(),
                )
            except Refusal as refusal:
                form.add_error(None, str(refusal))
            else:
                return redirect("checklists:deviation_detail", row.pk)
    is_open = row.state == Deviation.State.OPEN
    context = {
        "job": row.checklist.job,
        "tab": "install",
        "deviation": row,
        "options": options_of(row, with_costs=request.membership.sees_costs),
        "form": form,
        "may_accept": is_open and row.can_be_accepted and request.membership.is_owner,
        "is_open": is_open,
    }
    status = 422 if form.errors else 200
    return render(request, "checklists/deviation_detail.html", context, status=status)
