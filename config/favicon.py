"""Answers the address that browsers ask for an icon without being told of one."""

from __future__ import annotations

from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponseRedirect
from django.views.decorators.cache import cache_control


@cache_control(public=True, max_age=86400)
def favicon(request: HttpRequest) -> HttpResponseRedirect:
    """Lead to the icon among the static files, under the name its content has now."""
    return HttpResponseRedirect(staticfiles_storage.url("favicon.ico"))
