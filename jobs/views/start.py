"""Beginning from something: another job's design on this vehicle, and a quote like that job's."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.board.jobs import job_for_page
from jobs.board.past import past_designs
from jobs.design import packages, start
from jobs.forms.package import PackageForm
from jobs.models import Design, Package, Vehicle
from jobs.quote import repeat
from jobs.views.access import ShopRequest, role_required
from jobs.views.refused import answered

PAGE_SIZE = 20


@role_required("may_design")
def design_start(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show past designs to begin from; begin with the one that is picked."""
    job = job_for_page(request.user, job_pk)
    if request.method == "POST":
        asked = request.POST.get("like", "")
        found = Design.objects.visible_to(request.user).select_related("job")
        like = get_object_or_404(found, pk=int(asked) if asked.isdecimal() else 0)
        design = answered(
            request,
            lambda: start.design_begin_like(job=job, like=like, actor=request.user, at=timezone.now()),
        )
        if not design:
            return redirect("jobs:design_start", job.pk)
        messages.success(request, f"{design} is open.")
        return redirect("jobs:design_detail", design.pk)
    query, kind = request.GET.get("q", "").strip()[:80], request.GET.get("kind", "")
    rows = past_designs(request.user, job, query=query, kind=kind)
    page = Paginator(rows, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {
        "job": job, "tab": "design", "page": page, "query": query, "kind": kind,
        "kinds": Vehicle.Kind.choices,
        "packages": Package.objects.visible_to(request.user).exclude(design__job=job),
    }  # fmt: skip
    return render(request, "jobs/design_start.html", context)


@role_required("may_design")
@require_POST
def misfits_seen(request: ShopRequest, pk: int) -> HttpResponse:
    """Take what did not fit off the page: somebody has seen it."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    start.misfits_seen(design=design, actor=request.user, at=timezone.now())
    messages.success(request, "Recorded: you have seen what did not fit.")
    return redirect("jobs:design_detail", design.pk)


@role_required("may_design")
@require_POST
def quote_repeat(request: ShopRequest, pk: int) -> HttpResponse:
    """Begin a quote like that of the job whose design this one took."""
    designs = Design.objects.visible_to(request.user).select_related("job__shop")
    design = get_object_or_404(designs, pk=pk)
    done = answered(
        request, lambda: repeat.quote_repeat(design=design, actor=request.user, at=timezone.now())
    )
    if not done:
        return redirect("jobs:design_detail", design.pk)
    messages.success(request, " ".join([f"{done.quote} is begun.", *done.words]))
    return redirect("jobs:quote_detail", done.quote.pk)


@role_required("may_design")
def package_list(request: ShopRequest) -> HttpResponse:
    """Show the designs the shop keeps under a name."""
    found = Package.objects.visible_to(request.user).select_related(
        "design__job__vehicle", "design__bank__part", "design__inverter__part"
    )
    rows = found.annotate(panel_count=Count("design__panels"))
    return render(request, "jobs/package_list.html", {"packages": rows, "tab": "packages"})


@role_required("may_design")
@require_POST
def package_keep(request: ShopRequest, pk: int) -> HttpResponse:
    """Keep a revision under a name."""
    designs = Design.objects.visible_to(request.user).select_related("job__shop")
    design, form = get_object_or_404(designs, pk=pk), PackageForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(str(words) for found in form.errors.values() for words in found))
        return redirect("jobs:design_detail", design.pk)
    package = answered(
        request,
        lambda: packages.package_keep(
            design=design, actor=request.user, at=timezone.now(), **form.cleaned_data
        ),
    )
    if not package:
        return redirect("jobs:design_detail", design.pk)
    messages.success(request, f"{package} is kept as a package.")
    return redirect("jobs:package_list")


@role_required("may_design")
@require_POST
def package_remove(request: ShopRequest, pk: int) -> HttpResponse:
    """Keep a package no more; its design stays where it is."""
    found = Package.objects.visible_to(request.user).select_related("shop", "design__job")
    packages.package_remove(package=get_object_or_404(found, pk=pk), actor=request.user, at=timezone.now())
    return redirect("jobs:package_list")
