"""The pages of design revisions: list, one revision, sizing anew, its question as a file."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.models import User
from django.core.paginator import Paginator
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from jobs.board.jobs import job_for_page
from jobs.design import revision
from jobs.design.circuits import devices_take
from jobs.design.page import answer_for
from jobs.design.renew import is_of_older_engine
from jobs.design.revision import Change
from jobs.design.rule_sets import rule_sets_of
from jobs.engine.stored import designs_for_page, designs_of_job, latest_run
from jobs.engine.system import question_json
from jobs.forms.package import PackageForm
from jobs.models import Design
from jobs.quote.repeat import quote_to_repeat
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.shade.page import shade_page
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required

PAGE_SIZE = 30


@member_required
@require_GET
def design_list(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show the revisions of a job, newest first, each with its verdict."""
    job = job_for_page(request.user, job_pk)
    page = Paginator(designs_of_job(job), PAGE_SIZE).get_page(request.GET.get("page"))
    return render(request, "jobs/design_list.html", {"job": job, "tab": "design", "page": page})


@role_required("may_design")
@require_POST
def design_create(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Begin the next revision, empty or as a copy of ``copy_of``."""
    job = job_for_page(request.user, job_pk)
    copy_of = None
    if request.POST.get("copy_of", "").isdigit():
        copy_of = get_object_or_404(Design, job=job, pk=int(request.POST["copy_of"]))
    try:
        design = revision.design_create(job=job, actor=request.user, at=timezone.now(), copy_of=copy_of)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:design_list", job.pk)
    messages.success(request, f"{design} is open.")
    return redirect("jobs:design_detail", design.pk)


@member_required
@require_GET
def design_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show one revision: verdict, plan, energy, strings, circuits, weight, every check to open."""
    design = design_for_page(request.user, pk)
    return render(request, "jobs/design_detail.html", design_context(request, design))


def design_for_page(user: User, pk: int) -> Design:
    """Return one revision with what its page shows; another shop's is not found."""
    return get_object_or_404(designs_for_page(Design.objects.visible_to(user)), pk=pk)


def design_context(request: ShopRequest, design: Design) -> dict[str, Any]:
    """Return what the page of a revision shows."""
    answer = answer_for(design)
    return {
        "job": design.job,
        "tab": "design",
        "design": design,
        "answer": answer,
        "is_of_older_engine": answer is not None and is_of_older_engine(answer.run),
        "rule_sets": rule_sets_of(answer.run) if answer else None,
        "plan": plan_svg(roof_state(design), shop_units=request.shop.units),
        "shade": shade_page(design, timezone.now()),
        "may_edit": request.membership.may_design and not design.is_frozen,
        "may_note": request.membership.may_design,
        "package_form": PackageForm() if request.membership.may_design else None,
        "packages": design.packages.all() if design.is_frozen else (),  # only such are kept
        "repeats": quote_to_repeat(design) if request.membership.may_design else None,
    }


@role_required("may_design")
@require_POST
def design_size(request: ShopRequest, pk: int) -> HttpResponse:
    """Size a revision anew, for instance after the survey changed."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    if design.is_frozen:
        messages.error(
            request, f"Revision {design.number} is frozen: its numbers stay as they were accepted."
        )
    elif revision.design_resize(design, actor=request.user, at=timezone.now()) is None:
        messages.error(request, design.unsized_reason)
    else:
        messages.success(request, "Sized with the newest survey and catalog.")
        if request.POST.get("then") == "quote":
            return redirect("jobs:quote_create", design.pk)
    return redirect("jobs:design_detail", design.pk)


@role_required("may_design")
@require_POST
def design_devices(request: ShopRequest, pk: int) -> HttpResponse:
    """Put the devices that pass in place of those that do not, of the circuits named."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    seen = request.POST.get("seen", "")
    change = Change(request.user, timezone.now(), int(seen) if seen.isdecimal() else None)
    labels = request.POST.getlist("circuit")
    try:
        devices_take(design=design, change=change, labels=labels)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Replaced and sized: {', '.join(labels)}.")
    return redirect("jobs:design_detail", design.pk)


@member_required
@require_GET
def design_input(request: ShopRequest, pk: int) -> HttpResponse:
    """Give the question that was sized as a file, in the shape ``python -m sizing check`` reads."""
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job"), pk=pk)
    run = latest_run(design)
    if run is None:
        messages.error(request, design.unsized_reason or "This revision has not been sized yet.")
        return redirect("jobs:design_detail", design.pk)
    answer = JsonResponse(question_json(run), json_dumps_params={"indent": 1, "ensure_ascii": False})
    answer["Content-Disposition"] = f'attachment; filename="design-{design.job.number}-{design.number}.json"'
    return answer
