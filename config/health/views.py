"""The page for a fault of ours, with the number under which the log tells of it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from config.health.number import REQUEST_ID


def server_error(request: HttpRequest) -> HttpResponse:
    """Show the page; nothing of the shop is read, the fault may lie there."""
    return HttpResponse(render_to_string("500.html", {"request_id": REQUEST_ID.get()}), status=500)
