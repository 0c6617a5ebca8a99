"""Sends a stored picture to who may see it: asked for each time, sent only where it is missing."""

from __future__ import annotations

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, HttpRequest
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response

from common.files import opened

#: Kept by this browser alone, and shown by it only after the server said again that this person may see it.
ASKED_EACH_TIME = "private, max-age=0, must-revalidate"


def picture_sent(request: HttpRequest, file: FieldFile, *, name: str, what: str) -> HttpResponseBase:
    """Return the file, or 304 where the browser has it; nothing in it runs. The caller checks who asks."""
    tag = f'"{name}"'  # a picture never changes under its name
    answer: HttpResponseBase | None = get_conditional_response(request, etag=tag)
    if answer is None:
        answer = FileResponse(opened(file, what), content_type="image/jpeg", filename=name)
        answer["X-Content-Type-Options"] = "nosniff"
        answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["ETag"] = tag
    answer["Cache-Control"] = ASKED_EACH_TIME
    return answer
