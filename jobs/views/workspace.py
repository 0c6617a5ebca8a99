"""Serves the roof workspace: the page, the live answer to a layout being dragged, and its saving."""

from __future__ import annotations

import uuid
from typing import Any

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_POST

from jobs.design.revision import Change, DesignChangedMeanwhile
from jobs.engine.state import DesignState
from jobs.engine.stored import design_in_full, designs_with
from jobs.models import Design, Obstacle
from jobs.parts.panel_model import panel_models
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.roof.wires import SLACK_WORDS
from jobs.shop.refusals import Refusal
from jobs.survey.photo_read import photo_of, photo_state
from jobs.views.access import ShopRequest, member_required, role_required
from jobs.views.answers import shop_json
from jobs.views.roof_sent import sent_design, sent_edit, sent_json, tried
from jobs.workspace.drag_cache import dragged_design
from jobs.workspace.edit import NUMBERS, LayoutRefused, layout_save
from jobs.workspace.obstacle_text import TICKS, belong_words, locked_words, obstacle_kinds, obstacle_limits
from jobs.workspace.state import differences, layout_state, live_answer, panel_parts, roof_facts
from jobs.workspace.year import layout_detail, live_energy

PHOTO_FIELDS = (
    ("distance_mm", "Between the two points"),
    ("turn_deg", "Turned to the left"),
    ("x_mm", "Middle from the rear"),
    ("y_mm", "Middle from the right"),
    ("opacity", "Strength"),
)
_SHOWN = ("panels", "controllers", "strings", "obstacles")


@member_required
@require_GET
def workspace(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a revision's roof to be worked on; a still plan for those who may only look."""
    designs = designs_with(Design.objects.visible_to(request.user), *_SHOWN)
    design = get_object_or_404(designs.select_related("job__survey__roof_photo"), pk=pk)
    parts = panel_parts(request.shop, (panel.part for panel in design.panels.all()))
    may_edit = request.membership.may_design and not design.is_frozen
    roof = roof_state(design)
    facts = roof_facts(roof, panel_models(parts.values()).values())
    context = {
        "job": design.job,
        "tab": "design",
        "design": design,
        "part": "roof",
        "may_edit": may_edit,
        "plan": plan_svg(roof, shop_units=request.shop.units),
        "parts": parts.values(),
        "number_fields": [(name, word) for name, word, *_ in NUMBERS],
        **_obstacles_context(design),
        "photo": photo_of(design.job.survey),
        "photo_fields": PHOTO_FIELDS,
        "start": {
            "design": design.pk,
            "edit_count": design.edit_count,
            "units": request.shop.units,
            "may_edit": may_edit,
            "layout": layout_state(roof),
            "things": {
                "kinds": obstacle_kinds(request.shop.units),
                "limits": obstacle_limits(),
                "locked": locked_words(design.job.survey),
            },
            "photo": photo_state(photo_of(design.job.survey)),
            **facts,
        },
    }
    return render(request, "jobs/workspace_roof.html", context)


def _obstacles_context(design: Design) -> dict[str, Any]:
    """Return what the page offers for obstacles."""
    return {
        "thing_kinds": obstacle_kinds(design.job.shop.units),
        "thing_fields": [(name, limits[2]) for name, limits in obstacle_limits().items()],
        "thing_ticks": TICKS,
        "swings": Obstacle.Swing.choices,
        "things_belong": belong_words(design.job.survey),
        "slack_words": SLACK_WORDS,
    }


@gzip_page  # a drawing of twelve panels is 35 kB of text, and no secret lies in it
@role_required("may_design")
@require_POST
def workspace_live(request: ShopRequest, pk: int) -> JsonResponse:
    """Answer a layout that is not stored: rules, strings and, when asked for, the plan as drawn."""
    sent = sent_json(request)
    try:
        design = _dragged(request, pk, sent)
    except Refusal as refusal:
        return shop_json(request, {"error": str(refusal)}, status=422)
    answer = {"sequence": sent.get("sequence"), **live_answer(design)}
    if sent.get("draw"):  # the drawing never waits for the year, which is asked for next
        answer["svg"] = plan_svg(design.roof, shop_units=request.shop.units)
    else:
        answer |= live_energy(design)
    return shop_json(request, answer)


def _dragged(request: ShopRequest, pk: int, sent: dict[str, Any]) -> DesignState:
    """Return the design with the layout that was sent; its records rest while a panel is being dragged."""
    mine, is_drop = Design.objects.visible_to(request.user), bool(sent.get("draw"))
    try:
        return tried(dragged_design(mine, pk, is_fresh=is_drop), sent)
    except Design.DoesNotExist as missing:
        raise Http404 from missing


@role_required("may_design")
@require_POST
def workspace_detail(request: ShopRequest, pk: int) -> JsonResponse:
    """Answer what each panel loses and each obstacle costs in a layout that is not stored."""
    sent = sent_json(request)
    try:
        design = sent_design(request, pk, sent)
    except Refusal as refusal:
        return shop_json(request, {"error": str(refusal)}, status=422)
    return shop_json(request, {"sequence": sent.get("sequence"), **layout_detail(design)})


@role_required("may_design")
@require_POST
def workspace_save(request: ShopRequest, pk: int) -> JsonResponse:
    """Store a layout; 409 with the difference when somebody else changed the revision meanwhile."""
    design = get_object_or_404(
        designs_with(Design.objects.visible_to(request.user), "panels", "controllers", "strings"), pk=pk
    )
    sent = sent_json(request)
    try:
        edit = sent_edit(request, design, sent)
        change = Change(actor=request.user, at=timezone.now(), seen=_seen(sent), key=_key(sent))
        layout_save(design=design, edit=edit, change=change)
    except DesignChangedMeanwhile:
        return _conflict(request, design.pk, sent["layout"])
    except Refusal as refusal:
        return shop_json(request, {"error": str(refusal)}, status=422)
    design.refresh_from_db(fields=["edit_count", "unsized_reason"])
    return shop_json(request, {"edit_count": design.edit_count, "unsized": design.unsized_reason})


def _conflict(request: ShopRequest, pk: int, mine: dict[str, Any]) -> JsonResponse:
    stored = design_in_full(pk)
    theirs = layout_state(roof_state(stored))
    return shop_json(
        request,
        {
            "edit_count": stored.edit_count,
            "theirs": theirs,
            "differences": differences(mine, theirs, request.shop.units),
        },
        status=409,
    )


def _seen(sent: dict[str, Any]) -> int:
    """Return the state the sender saw; without one nothing may be overwritten."""
    seen = sent.get("seen")
    if isinstance(seen, bool) or not isinstance(seen, int):
        raise LayoutRefused("The roof could not be saved: reload the page and try again.")
    return seen


def _key(sent: dict[str, Any]) -> uuid.UUID | None:
    try:
        return uuid.UUID(str(sent.get("key", "")))
    except ValueError:
        return None
