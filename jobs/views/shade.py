"""The shade part of a design's page: its state while it is worked out, asking anew, its scene."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from jobs.engine.stored import designs_for_page
from jobs.models import Design, ShadeRun
from jobs.shade.page import shade_page
from jobs.shade.run import done_run, shade_ask
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@member_required
@require_GET
def shade_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show how far the work is, or the whole part of the page once it is done; asked every few seconds."""
    design = get_object_or_404(designs_for_page(Design.objects.visible_to(request.user)), pk=pk)
    if not request.headers.get("HX-Request"):
        return redirect(_place(design))
    context: dict[str, Any] = {
        "job": design.job,
        "design": design,
        "shade": shade_page(design, timezone.now()),
    }
    if context["shade"].open_run is not None:
        return render(request, "jobs/_shade_progress.html", context)
    answer = render(request, "jobs/_design_shade.html", context)
    answer["HX-Retarget"], answer["HX-Reswap"] = "#shade", "outerHTML"
    return answer


@role_required("may_design")
@require_POST
def shade_run(request: ShopRequest, pk: int) -> HttpResponse:
    """Ask for the year anew, at the place that is chosen."""
    return _ask(request, pk, ShadeRun.Kind.YEAR, _key(request.POST.get("stop", "")))


@role_required("may_design")
@require_POST
def shade_check(request: ShopRequest, pk: int) -> HttpResponse:
    """Ask for the same year by every hour, at the place the year was worked out for."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    done = done_run(design)
    return _ask(request, pk, ShadeRun.Kind.CHECK, done.stop_key if done else None)


def _ask(request: ShopRequest, pk: int, kind: str, stop_key: uuid.UUID | None) -> HttpResponse:
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job__shop"), pk=pk)
    try:
        shade_ask(design=design, actor=request.user, at=timezone.now(), kind=kind, stop_key=stop_key)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect(_place(design))


def _place(design: Design) -> str:
    return f"{reverse('jobs:design_detail', args=[design.pk])}#shade"


def _key(text: str) -> uuid.UUID | None:
    """Return the key of a place; a word that is none means the place of most nights."""
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@member_required
@require_GET
def shade_scene(request: ShopRequest, pk: int) -> HttpResponse:
    """Give the scene that was worked out as a file, in the shape ``python -m sizing shade`` reads."""
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job"), pk=pk)
    run = done_run(design)
    if run is None:
        messages.error(request, "The year of shade of this revision was not worked out yet.")
        return redirect(_place(design))
    answer = JsonResponse(run.inputs["scene"], json_dumps_params={"indent": 1, "ensure_ascii": False})
    answer["Content-Disposition"] = f'attachment; filename="scene-{design.job.number}-{design.number}.json"'
    return answer
