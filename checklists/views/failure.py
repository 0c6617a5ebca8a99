"""The page of what failed in the background, with a try again."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from checklists.office.failures import failure_retry, failures_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
@require_GET
def failure_list(request: ShopRequest) -> HttpResponse:
    """Show what failed in the shop."""
    return render(request, "checklists/failure_list.html", {"failures": failures_of(request.shop)})


@role_required("is_owner")
@require_POST
def failure_again(request: ShopRequest, kind: str, pk: int) -> HttpResponse:
    """Have one piece of failed work done again."""
    try:
        failure_retry(shop=request.shop, kind=kind, pk=pk, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("It waits for its turn again."))
    return redirect("checklists:failure_list")
