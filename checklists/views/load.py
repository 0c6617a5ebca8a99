"""View of the pull list: what is loaded, what is missing, and how a shortage was settled."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from checklists.forms.hours import SettleForm
from checklists.office.loads import loads_page, shortage_settle
from checklists.record.pages import checklist_or_404
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, must_hold


@member_required
@require_http_methods(["GET", "POST"])
def load(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show what to load and what is missing; settle a shortage."""
    checklist = checklist_or_404(request.user, job_pk)
    form = SettleForm(request.POST if request.method == "POST" else None)
    if form.is_bound:
        must_hold(request, "may_install")
        if form.is_valid():
            try:
                shortage_settle(
                    checklist=checklist, actor=request.user, at=timezone.now(), **form.cleaned_data
                )
            except Refusal as refusal:
                form.add_error(None, str(refusal))
            else:
                messages.success(request, "Settled; the tablets are told.")
                return redirect("checklists:load", job_pk)
    page = loads_page(checklist)
    forms = [
        (one, SettleForm(initial={"key": one.shortage.key, "submission": uuid.uuid4()}, auto_id=f"s{n}-%s"))
        for n, one in enumerate(page["missing"])
    ]
    context = page | {
        "job": checklist.job,
        "tab": "install",
        "form": form,
        "settle_forms": forms,
        "may_record": request.membership.may_install,
    }
    return render(request, "checklists/load.html", context, status=422 if form.errors else 200)
