"""Finds shop, time zone and language of a request, and answers where papers cannot be printed."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation

from common.guard import only_shop
from common.pdf import PdfLibraryMissing
from jobs.models import Membership


class ShopMiddleware:
    """Put ``request.membership`` and ``request.shop`` in place; answer in the time zone and language."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        membership = _membership_of(request)
        request.membership = membership  # type: ignore[attr-defined]  # read as a ShopRequest
        request.shop = membership.shop if membership else None  # type: ignore[attr-defined]  # the same
        if membership is None:
            return self.get_response(request)
        zone = zoneinfo.ZoneInfo(membership.shop.time_zone)
        narrowed = only_shop(membership.shop_id)
        with narrowed, timezone.override(zone), translation.override(membership.language):
            return self.get_response(request)


def _membership_of(request: HttpRequest) -> Membership | None:
    """Return the signed-in person's active membership, with its shop, or None."""
    if not request.user.is_authenticated:
        return None
    found: Membership | None = getattr(
        request.user, "membership", None
    )  # read with the person: see config.accounts
    return found if found is not None and found.is_active else None


class PaperMiddleware:
    """Answer a paper that cannot be printed with the one line that mends it, not with a traceback."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the page for a machine without Pango; other faults rise."""
        if not isinstance(exception, PdfLibraryMissing):
            return None
        return render(request, "503.html", {"sentence": str(exception)}, status=503)
