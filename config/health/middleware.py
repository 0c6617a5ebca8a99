"""Answers probes before anything else looks at the request, numbers each request, and counts it."""

from __future__ import annotations

import re
import secrets
import time
from collections.abc import Callable
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound, JsonResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from config.health.number import REQUEST_ID
from config.health.probes import look
from config.version import VERSION

#: What a proxy in front may hand us as the number.
_FROM_PROXY: Final = re.compile(r"[\w-]{8,64}")

Answer = Callable[[HttpRequest], HttpResponse]


class HealthMiddleware:
    """Answer ``/healthz``, ``/readyz`` and ``/metrics``: to any host name, without session or redirect."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        probes: dict[str, Answer] = {"/healthz": _alive, "/readyz": _ready, "/metrics": _metrics}
        return probes.get(request.path_info, self.get_response)(request)


def _alive(request: HttpRequest) -> HttpResponse:
    """Answer that the process runs."""
    return HttpResponse(f"ok {VERSION}\n", content_type="text/plain")


def _ready(request: HttpRequest) -> HttpResponse:
    """Answer 200 when every probe passed, 503 with the words of those that did not."""
    found = look(at=timezone.now())
    lines = {each.name: ("ok" if each.is_ok else "not ready") + f": {each.words}" for each in found}
    is_ready = all(each.is_ok for each in found)
    return JsonResponse({"ready": is_ready, "version": VERSION} | lines, status=200 if is_ready else 503)


def _metrics(request: HttpRequest) -> HttpResponse:
    """Answer the counters to who has the token, or to this machine where none is set; others find nothing."""
    from config.health.counters import counters_text

    sent = request.headers.get("Authorization", "").removeprefix("Bearer ")
    is_local = request.META.get("REMOTE_ADDR") in ("127.0.0.1", "::1", "") and not request.headers.get(
        "X-Forwarded-For"
    )
    token = settings.METRICS_TOKEN
    if not (constant_time_compare(sent, token) if token else is_local):
        return HttpResponseNotFound()
    return HttpResponse(counters_text(), content_type="text/plain; version=0.0.4; charset=utf-8")


class RequestIdMiddleware:
    """Number each request and count its answer."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sent = request.headers.get("X-Request-ID", "") if settings.BEHIND_PROXY else ""
        number = sent if _FROM_PROXY.fullmatch(sent) else secrets.token_hex(8)
        mark = REQUEST_ID.set(number)
        begun = time.perf_counter()
        try:
            response = self.get_response(request)
        finally:
            REQUEST_ID.reset(mark)
        response["X-Request-ID"] = number
        _count(request, response, time.perf_counter() - begun)
        return response


def _count(request: HttpRequest, response: HttpResponse, seconds: float) -> None:
    from config.health.counters import REQUESTS, SECONDS

    match = request.resolver_match
    REQUESTS.labels(request.method, match.view_name if match else "", response.status_code).inc()
    SECONDS.observe(seconds)
