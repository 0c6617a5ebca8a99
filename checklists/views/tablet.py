"""Views of the roof tablet: its empty shell, the worker that keeps it, what it downloads of a job."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import translation
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from checklists.record.pages import checklist_to_take
from checklists.tables.run import tables_kept, tables_task
from checklists.tablet.download import job_download, jobs_to_download
from checklists.tablet.shell import DECODER, ICONS, SCAN_WORKER, shell_files, shell_modules, shell_version
from checklists.tablet.wire import FORM
from checklists.views.event import is_of_a_shop, signed_out
from jobs.views.access import ShopRequest

_VERDICTS = ("pass", "caution", "block", "not_enough_data")


@require_GET
def tablet(request: HttpRequest) -> HttpResponse:
    """Show the empty shell: the same for everybody, so that it may be kept."""
    urls = {
        "hello": reverse("checklists:hello"),
        "jobs": reverse("checklists:tablet_jobs"),
        "worker": reverse("checklists:tablet_worker"),
        "sign_in": reverse("account_login"),
        "sign_out": reverse("account_logout"),
        "unlock": reverse("checklists:tablet_unlock"),
        "pin": reverse("checklists:tablet_pin"),
        "name": reverse("checklists:tablet_name"),
        "board": reverse("jobs:job_board"),
        "scan_worker": static(SCAN_WORKER),
        "decoder": static(DECODER),
    }
    context = {
        "app_version": f"{FORM}.{shell_version()}",
        "urls": json.dumps(urls),
        "icons": ICONS,
        "modules": shell_modules(),
        "verdicts": _VERDICTS,
    }
    with translation.override(settings.LANGUAGE_CODE):  # kept for all who share the tablet: it says the rest
        answer = render(request, "tablet/shell.html", context)
    answer["Cache-Control"] = "no-cache"
    return answer


@require_GET
def tablet_worker(request: HttpRequest) -> HttpResponse:
    """Send the service worker; its bytes change when any file of the shell does."""
    files = mark_safe(json.dumps(shell_files()))  # noqa: S308 - names of our own files
    context = {"version": shell_version(), "files": files}
    answer = render(request, "tablet/sw.js", context, content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    return answer


@require_GET
def tablet_manifest(request: HttpRequest) -> HttpResponse:
    """Send what a tablet needs to put the shell on its home screen."""
    icons = [
        {"src": static("tablet/icon-192.png"), "sizes": "192x192", "type": "image/png"},
        {"src": static("tablet/icon-512.png"), "sizes": "512x512", "type": "image/png"},
        {
            "src": static("tablet/icon-512.png"),
            "sizes": "512x512",
            "type": "image/png",
            "purpose": "maskable",
        },
    ]
    data = {
        "name": "Coachlight roof tablet",
        "short_name": "Coachlight",
        "id": reverse("checklists:tablet"),
        "start_url": reverse("checklists:tablet"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#f5f1e7",
        "theme_color": "#0f3039",
        "icons": icons,
    }
    answer = HttpResponse(json.dumps(data), content_type="application/manifest+json")
    answer["Cache-Control"] = "no-cache"
    return answer


def signed_in(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Answer a signed-out tablet with 401 and no redirect, which would look like success."""

    @functools.wraps(view)
    def checked(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        return view(request, *args, **kwargs) if is_of_a_shop(request) else signed_out()

    return checked


@signed_in
@require_GET
@never_cache
def tablet_jobs(request: ShopRequest) -> JsonResponse:
    """Send the jobs that can be taken along."""
    return JsonResponse({"jobs": jobs_to_download(request.user)})


@signed_in
@require_GET
@never_cache
def download(request: ShopRequest, job_pk: int) -> JsonResponse:
    """Send the whole job for work without a network; its tables as soon as they are made."""
    checklist = checklist_to_take(request.user, job_pk)
    tables = tables_kept(checklist)
    if tables is None:
        tables_task.enqueue(checklist.pk)
    return JsonResponse(job_download(checklist) | {"sums": tables})
