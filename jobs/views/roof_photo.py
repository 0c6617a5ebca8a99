"""The photo to trace from: taken in, placed, sent to people of its shop, taken away."""

from __future__ import annotations

import json
import uuid

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from jobs.models import Design, RoofPhoto
from jobs.shop.refusals import Refusal
from jobs.survey import photo as photo_do
from jobs.survey.photo_read import photo_of, photo_state
from jobs.views.access import ShopRequest, member_required, role_required
from jobs.views.answers import shop_json
from jobs.views.picture import picture_sent


@member_required
@require_GET
def roof_photo(request: ShopRequest, pk: uuid.UUID) -> HttpResponseBase:
    """Send the picture; it never changes, and nothing in it may run."""
    photo = get_object_or_404(RoofPhoto.objects.visible_to(request.user), pk=pk)
    return picture_sent(request, photo.file, name=f"roof-{pk}.jpg", what="this photo of the roof")


def _design(request: ShopRequest, pk: int) -> Design:
    designs = Design.objects.visible_to(request.user).select_related("job__shop", "job__survey__roof_photo")
    return get_object_or_404(designs, pk=pk)


@role_required("may_design")
@require_POST
def roof_photo_add(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a photo in and lay it under the plan of the design's survey."""
    design, upload = _design(request, pk), request.FILES.get("photo")
    if upload is None:
        messages.error(request, "Choose a photo first.")
        return _back(design)
    try:
        picture = photo_do.picture_of(upload)
        photo_do.roof_photo_add(
            survey=design.job.survey, picture=picture, actor=request.user, at=timezone.now()
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return _back(design)


@role_required("may_design")
@require_POST
def roof_photo_remove(request: ShopRequest, pk: int) -> HttpResponse:
    """Take the photo away."""
    design = _design(request, pk)
    try:
        photo_do.roof_photo_remove(survey=design.job.survey, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return _back(design)


def _back(design: Design) -> HttpResponse:
    answer = redirect("jobs:workspace", design.pk)
    answer["Location"] += "#photo"
    return answer


@role_required("may_design")
@require_POST
def roof_photo_place(request: ShopRequest, pk: int) -> JsonResponse:
    """Store how the photo lies; 409 with the stored place when somebody else moved it meanwhile."""
    design = _design(request, pk)
    try:
        sent = json.loads(request.body)
    except ValueError:
        sent = None
    if not isinstance(sent, dict):
        return shop_json(request, {"error": "The place of the photo cannot be read."}, status=422)
    try:
        photo = photo_do.roof_photo_place(
            survey=design.job.survey, data=sent, seen=sent.get("seen"), actor=request.user
        )
    except photo_do.PhotoMovedMeanwhile as refusal:
        theirs = photo_state(photo_of(_design(request, pk).job.survey))
        return shop_json(request, {"error": str(refusal), "theirs": theirs}, status=409)
    except Refusal as refusal:
        return shop_json(request, {"error": str(refusal)}, status=422)
    return shop_json(request, {"seen": photo.edit_count})
