"""The calendar feed of a person, and the page where its secret address is made and taken back."""

from __future__ import annotations

import zoneinfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from common.guard import every_shop, only_shop
from common.visitors import is_too_often, visitor_network
from jobs.schedule import calendar
from jobs.shop.days import local_date
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required
from jobs.views.guest_door import TEN_MINUTES, WRONG_TOKENS, sealed

#: How often one network may ask for one feed a minute: programs ask every few minutes.
_ASKS_A_MINUTE = 20


@never_cache
@member_required
def calendar_link(request: ShopRequest) -> HttpResponse:
    """Show a person's own link, and make a new one: it is shown once."""
    url = ""
    if request.method == "POST":
        token = calendar.calendar_link_create(
            member=request.membership, actor=request.user, at=timezone.now()
        )
        url = request.build_absolute_uri(reverse("jobs:calendar_feed", args=[token]))
    context = {"link": calendar.calendar_link_of(request.membership), "url": url}
    return render(request, "jobs/calendar_link.html", context)


@member_required
@require_POST
def calendar_revoke(request: ShopRequest) -> HttpResponse:
    """Take the person's own link back."""
    calendar.calendar_link_revoke(member=request.membership, actor=request.user, at=timezone.now())
    messages.success(request, "The link is taken back. Calendars that use it find nothing any more.")
    return redirect("jobs:calendar_link")


@require_GET
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Answer a calendar program with the days of the person whose link this is."""
    network = visitor_network(request)
    if is_too_often(f"feed:{calendar.token_name(token)}:{network}", limit=_ASKS_A_MINUTE, seconds=60):
        return _refused("Too often: ask again in a while.", 429)
    try:
        with every_shop():
            member = calendar.calendar_open(token=token, at=timezone.now())
    except Refusal as refusal:
        is_guessing = is_too_often(f"wrong:{network}", limit=WRONG_TOKENS, seconds=TEN_MINUTES)
        return _refused(str(refusal), 429 if is_guessing else 404)
    shop = member.shop
    with only_shop(shop.pk), timezone.override(zoneinfo.ZoneInfo(shop.time_zone)):
        body = calendar.feed_of(member, today=local_date(shop, timezone.now()))
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="schedule.ics"'
    return sealed(response)


def _refused(words: str, status: int) -> HttpResponse:
    response = HttpResponse(words, content_type="text/plain; charset=utf-8", status=status)
    if status == 429:
        response["Retry-After"] = str(TEN_MINUTES)
    return sealed(response)
