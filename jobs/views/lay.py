"""Serves the page of automatic layouts: asking, looking how far it is, stopping, taking one."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from jobs.autolayout.page import candidate_of, layout_search_page
from jobs.autolayout.question import LayoutSearchRefused
from jobs.autolayout.run import layout_candidate_take, layout_search_ask, layout_search_stop
from jobs.design.revision import Change
from jobs.engine.stored import designs_with
from jobs.forms.lay import LayoutSearchForm, usual_parts
from jobs.models import Design
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required
from jobs.workspace.state import panel_parts


@role_required("may_design")
@require_http_methods(["GET", "POST"])
def lay_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show options and candidates; a post asks for a search. A part of the page is given to the workspace."""
    design = get_object_or_404(
        designs_with(Design.objects.visible_to(request.user), "panels", "controllers", "obstacles"), pk=pk
    )
    parts = panel_parts(request.shop, (panel.part for panel in design.panels.all()))
    form = _form(request, design, parts)
    problem = ""
    if request.method == "POST" and form.is_valid():
        try:
            layout_search_ask(design=design, options=form.options(), actor=request.user, at=timezone.now())
            return redirect("jobs:lay_detail", design.pk)
        except Refusal as refusal:
            problem = str(refusal)
    context = {
        "job": design.job,
        "tab": "design",
        "part": "roof",
        "design": design,
        "form": form,
        "problem": problem,
        "lay": layout_search_page(design, request.shop, parts, timezone.now()),
        "key": uuid.uuid4(),
    }
    template = "jobs/_lay.html" if request.headers.get("HX-Request") else "jobs/lay_detail.html"
    return render(request, template, context, status=422 if request.method == "POST" else 200)


def _form(request: ShopRequest, design: Design, parts: dict[int, Any]) -> LayoutSearchForm:
    has_rafters = bool(design.job.survey.rafter_spacing_mm)
    run = design.lay_runs.first() if request.method == "GET" else None
    initial: dict[str, Any] = {"one_model": True, "on_rafters": True}
    initial["parts"] = usual_parts(parts, (panel.part_id for panel in design.panels.all()))
    if run is not None:
        initial |= run.options
    data = request.POST if request.method == "POST" else None
    return LayoutSearchForm(
        data, parts=parts, has_rafters=has_rafters, units=request.shop.units, initial=initial, prefix="lay"
    )


@role_required("may_design")
@require_POST
def lay_stop(request: ShopRequest, pk: int) -> HttpResponse:
    """End the search; what it has found stays."""
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job__shop"), pk=pk)
    layout_search_stop(design=design, actor=request.user, at=timezone.now())
    return redirect("jobs:lay_detail", design.pk)


@role_required("may_design")
@require_POST
def lay_take(request: ShopRequest, pk: int) -> HttpResponse:
    """Store a candidate as the roof of the revision; the workspace takes one by itself, as one step."""
    design = get_object_or_404(Design.objects.visible_to(request.user).select_related("job__shop"), pk=pk)
    candidate = candidate_of(design, _number(request.POST.get("run")), request.POST.get("candidate", ""))
    try:
        if candidate is None:
            raise LayoutSearchRefused("These layouts were replaced by a newer search: choose again.")
        change = Change(
            actor=request.user,
            at=timezone.now(),
            seen=_number(request.POST.get("seen")),
            key=_key(request.POST.get("key", "")),
        )
        layout_candidate_take(design=design, candidate=candidate, change=change)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:lay_detail", design.pk)
    messages.success(request, f"The roof now carries {candidate['panels']} panels as laid.")
    return redirect("jobs:workspace", design.pk)


def _number(text: str | None) -> int:
    """Return a number that a form of ours sent; anything else fits no record and no state."""
    return int(text) if text and text.isdecimal() and len(text) < 12 else -1


def _key(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
