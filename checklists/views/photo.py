"""Answers with a picture, to people of the shop it belongs to."""

from __future__ import annotations

import uuid

from django.http import FileResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_GET

from checklists.models import Photo
from jobs.views.access import ShopRequest, member_required


@member_required
@require_GET
def photo(request: ShopRequest, pk: uuid.UUID) -> FileResponse:
    """Send a picture; it never changes, so the tablet may keep it."""
    found = get_object_or_404(Photo.objects.visible_to(request.user), pk=pk)
    answer = FileResponse(found.file.open("rb"), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=604800, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Disposition"] = "inline"
    return answer
