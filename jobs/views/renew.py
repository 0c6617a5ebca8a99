"""Sizing anew by the engine of today, and the page of what came out otherwise."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from jobs.design.renew import changes_between, design_renew, last_renewal
from jobs.models import Design
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@role_required("may_design")
@require_POST
def design_renewal(request: ShopRequest, pk: int) -> HttpResponse:
    """Size a revision by the engine of today, then show what changed."""
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job__shop"), pk=pk)
    try:
        design_renew(design=design, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:design_detail", design.pk)
    messages.success(request, _("Sized by the engine of today. The answer of before stays stored."))
    return redirect("jobs:design_changed", design.pk)


@member_required
@require_GET
def design_changed(request: ShopRequest, pk: int) -> HttpResponse:
    """Show what the newest engine says otherwise than the one before."""
    design = get_object_or_404(
        Design.objects.visible_to(request.user).select_related("job__shop", "job__vehicle__customer"), pk=pk
    )
    found = last_renewal(design)
    context = {"job": design.job, "tab": "design", "design": design}
    if found:
        before, after = found
        context |= {"before": before, "after": after, "changes": changes_between(before, after)}
    return render(request, "jobs/design_changed.html", context)
