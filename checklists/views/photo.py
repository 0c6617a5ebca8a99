"""Sends pictures to people of the shop they belong to."""

from __future__ import annotations

import uuid

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from checklists.models import Photo
from checklists.record.pages import checklist_or_404
from checklists.record.read import work_of
from checklists.sheet import record
from common.files import opened
from jobs.views.access import ShopRequest, member_required


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
def photo(request: ShopRequest, pk: uuid.UUID) -> FileResponse:
    """Send a picture."""
    found = _found(request, pk)
    return _sent(found.file, f"photo-{pk}.jpg")


@member_required
@require_GET
def photo_small(request: ShopRequest, pk: uuid.UUID) -> FileResponse:
    """Send the small form of a picture, for pages that show many."""
    found = _found(request, pk)
    return _sent(found.small, f"photo-{pk}-small.jpg")


def _found(request: ShopRequest, pk: uuid.UUID) -> Photo:
    return get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)


def _sent(file: FieldFile, name: str) -> FileResponse:
    """Return the file; it never changes, so the tablet may keep it, and nothing in it may run."""
    answer = FileResponse(opened(file, "this photo"), content_type="image/jpeg", filename=name)
    answer["Cache-Control"] = "private, max-age=604800, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer
