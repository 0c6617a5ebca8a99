"""The pages on which a draft revision is changed, one for each part of a design."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from jobs.design.revision import Change, DesignChangedMeanwhile
from jobs.engine.stored import designs_with, stored_answer
from jobs.forms.design import EditForm
from jobs.models import Design
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required
from jobs.views.design_editors import EDITORS
from jobs.views.design_editors.editor import Editor


@role_required("may_design")
def design_edit(request: ShopRequest, pk: int, part: str) -> HttpResponse:
    """Change one part of a draft revision; what was typed is kept when it cannot be taken."""
    if part not in EDITORS:
        raise Http404("No such part of a design")
    mine = Design.objects.visible_to(request.user)
    design = get_object_or_404(designs_with(mine, *EDITORS[part].reads), pk=pk)
    if design.is_frozen:
        messages.error(request, f"Revision {design.number} is frozen. Make a new revision to change it.")
        return redirect("jobs:design_detail", design.pk)
    typed = request.POST if request.method == "POST" else None
    editor = EDITORS[part](design, request.shop, typed, stored_answer(design))
    if request.method == "POST":
        answer = _taken(request, design, editor)
        if answer is not None:
            return answer
    return _page(request, design, part, editor)


def _taken(request: ShopRequest, design: Design, editor: Editor) -> HttpResponse | None:
    """Take what was typed; return where to go, or None when the page must be shown again."""
    stamp = EditForm(request.POST)
    if not stamp.is_valid():
        editor.refusals.append("This page is out of date: check what you typed below and save again.")
        return None
    editor.seen = stamp.cleaned_data["seen"]
    if not editor.is_valid():
        return None
    change = Change(
        actor=request.user,
        at=timezone.now(),
        seen=editor.seen,
        key=stamp.cleaned_data["key"],
    )
    try:
        editor.save(change)
    except Refusal as refusal:
        editor.refusals.append(str(refusal))
        if isinstance(refusal, DesignChangedMeanwhile):
            editor.seen = None
        return None
    messages.success(request, editor.done)
    if "stay" in request.POST or editor.stays:
        return redirect("jobs:design_edit", design.pk, editor.slug)
    return redirect("jobs:design_detail", design.pk)


def _page(request: ShopRequest, design: Design, part: str, editor: Editor) -> HttpResponse:
    context = {
        "job": design.job,
        "tab": "design",
        "design": design,
        "part": part,
        "parts": [(slug, one.title) for slug, one in EDITORS.items()],
        "editor": editor,
        "seen": design.edit_count if editor.seen is None else editor.seen,
        "key": uuid.uuid4(),
        "plan": plan_svg(roof_state(design), shop_units=request.shop.units) if editor.shows_plan else "",
        "answer": editor.answer,
        **editor.context(),
    }
    is_refused = request.method == "POST"
    return render(request, "jobs/design_edit.html", context, status=422 if is_refused else 200)
