"""Answers with a picture, to people of the shop it belongs to."""

from __future__ import annotations

import uuid

from django.db.models.fields.files import FieldFile
from django.http import FileResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from checklists.models import Photo
from jobs.views.access import ShopRequest, member_required


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
    return get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)  # type: ignore[no-any-return]


def _sent(file: FieldFile, name: str) -> FileResponse:
    """Return the file; it never changes, so the tablet may keep it, and nothing in it may run."""
    answer = FileResponse(file.open("rb"), content_type="image/jpeg", filename=name)
    answer["Cache-Control"] = "private, max-age=604800, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer
