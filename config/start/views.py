"""The first page of an installation nobody has set up yet."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from config.start.catalog import catalog_copy
from config.start.form import FirstRunForm
from jobs.models import Shop
from jobs.shop.found import ShopRefused, shop_found

#: Set once a shop was seen: there is one from then on.
_seen: list[bool] = []


def is_first_run() -> bool:
    """Return whether no shop was set up yet."""
    if not _seen and Shop.objects.exists():
        _seen.append(True)
    return not _seen


def first_run(request: HttpRequest) -> HttpResponse:
    """Set up the first shop; once there is one, this page is gone."""
    if not is_first_run():
        raise Http404
    if not settings.FIRST_RUN_CODE.exists():
        return render(request, "first_run.html", {"form": None})
    form = FirstRunForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            member = shop_found(shop=form.shop, owner=form.owner, at=timezone.now())
        except ShopRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return _done(request, form, member.shop)
    return render(request, "first_run.html", {"form": form}, status=422 if form.errors else 200)


def _done(request: HttpRequest, form: FirstRunForm, shop: Shop) -> HttpResponse:
    if form.cleaned_data["with_catalog"]:
        catalog_copy(shop)
    settings.FIRST_RUN_CODE.unlink(missing_ok=True)
    messages.success(request, f"{shop.name} is set up. Sign in as its owner.")
    return redirect("account_login")


class FirstRunMiddleware:
    """Lead every page to the first one while no shop is set up."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        is_page = not request.path_info.startswith(("/first-run/", settings.STATIC_URL))
        if is_page and is_first_run():
            return redirect("first_run")
        return self.get_response(request)
