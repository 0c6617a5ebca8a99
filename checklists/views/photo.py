"""Sends pictures to people of the shop they belong to."""

from __future__ import annotations

import uuid

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from checklists.models import Photo
from checklists.record.pages import checklist_or_404
from checklists.record.read import work_of
from checklists.sheet import record
from jobs.views.access import ShopRequest, member_required
from jobs.views.picture import picture_sent


@member_required
@require_GET
def photo_list(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show every photo of an install, in the order of the work."""
    checklist = checklist_or_404(request.user, job_pk)
    context = {
        "job": checklist.job,
        "tab": "install",
        "photos": record.photos(work_of(checklist), checklist.job.shop.time_zone),
    }
    return render(request, "checklists/photo_list.html", context)


@member_required
@require_GET
def photo(request: ShopRequest, pk: uuid.UUID) -> HttpResponseBase:
    """Send a picture."""
    found = _found(request, pk)
    return picture_sent(request, found.file, name=f"photo-{pk}.jpg", what="this photo")


@member_required
@require_GET
def photo_small(request: ShopRequest, pk: uuid.UUID) -> HttpResponseBase:
    """Send the small form of a picture, for pages that show many."""
    found = _found(request, pk)
    return picture_sent(request, found.small, name=f"photo-{pk}-small.jpg", what="this photo")


def _found(request: ShopRequest, pk: uuid.UUID) -> Photo:
    return get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)
