"""Serves the addresses behind the roof's shade: the clock, the beam lost by cell, other ways to wire."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import JsonResponse
from django.views.decorators.http import require_POST

from jobs.engine.state import DesignState
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required
from jobs.views.answers import shop_json
from jobs.views.roof_sent import sent_design, sent_json
from jobs.workspace.clock import clock_answer, read_clock
from jobs.workspace.heat import heat_answer
from jobs.workspace.strings import kwh_worth, strings_answer

Answer = Callable[[DesignState, dict[str, Any]], dict[str, Any]]


@role_required("may_design")
@require_POST
def workspace_clock(request: ShopRequest, pk: int) -> JsonResponse:
    """Answer shadows and powers of a layout that is not stored, at the moment the clock is set to."""
    return _answered(request, pk, lambda design, sent: clock_answer(design, read_clock(sent.get("clock"))))


@role_required("may_design")
@require_POST
def workspace_heat(request: ShopRequest, pk: int) -> JsonResponse:
    """Answer the yearly beam every cell of a layout loses that is not stored."""
    return _answered(request, pk, lambda design, _sent: heat_answer(design))


@role_required("may_design")
@require_POST
def workspace_strings(request: ShopRequest, pk: int) -> JsonResponse:
    """Answer better ways to wire a layout that is not stored, and why its own way loses."""
    worth = {"worth": kwh_worth(request.shop.currency)} if request.membership.sees_prices else {}
    return _answered(request, pk, lambda design, _sent: {**strings_answer(design), **worth})


def _answered(request: ShopRequest, pk: int, answer: Answer) -> JsonResponse:
    sent = sent_json(request)
    try:
        found = answer(sent_design(request, pk, sent), sent)
    except Refusal as refusal:
        return shop_json(request, {"error": str(refusal)}, status=422)
    return shop_json(request, {"sequence": sent.get("sequence"), **found})
