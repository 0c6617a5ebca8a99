"""Taking note of verdicts on a design's page, and taking a note back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.design.noted import checks_note
from jobs.design.noted import note_undo as take_back
from jobs.models import Design, NotedCheck
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required
from jobs.views.design import design_context, design_for_page


@role_required("may_design")
@require_POST
def check_note(request: ShopRequest, pk: int) -> HttpResponse:
    """Take note of the checks of a line; a refusal shows the page again with what was typed."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    run = request.POST.get("run", "")
    try:
        checks_note(
            design=design,
            keys=request.POST.getlist("check"),
            reason=request.POST.get("reason", ""),
            actor=request.user,
            at=timezone.now(),
            seen_run=int(run) if run.isdecimal() else None,
        )
    except Refusal as refusal:
        return _again(request, pk, str(refusal))
    messages.success(request, "Noted. It comes back when its numbers change.")
    return _to_the_list(pk)


@role_required("may_design")
@require_POST
def note_undo(request: ShopRequest, pk: int, note_pk: int) -> HttpResponse:
    """Take a note back; nothing happens where it is already gone."""
    design = get_object_or_404(Design.objects.visible_to(request.user), pk=pk)
    note = NotedCheck.objects.visible_to(request.user).filter(design=design, pk=note_pk).first()
    if note is not None:
        take_back(note=note, actor=request.user, at=timezone.now())
        messages.success(request, "The note was removed: its check is in the list again.")
    return _to_the_list(pk)


def _again(request: ShopRequest, pk: int, error: str) -> HttpResponse:
    context = design_context(request, design_for_page(request.user, pk))
    typed = {"cause": request.POST.get("cause", ""), "reason": request.POST.get("reason", ""), "error": error}
    messages.error(request, error)
    return render(request, "jobs/design_detail.html", context | {"note_typed": typed}, status=422)


def _to_the_list(design_pk: int) -> HttpResponse:
    answer = redirect("jobs:design_detail", design_pk)
    answer["Location"] += "#attention"
    return answer
