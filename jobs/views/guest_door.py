"""The door for customers: the link of a letter opens it, a cookie keeps it open, only our own form answers.

The token of the letter stands in an address once. It is swapped for a signed cookie that goes to the pages
of this one link, and the browser goes on to an address that tells nothing. Each time the link itself is
read again: one taken back or run out opens nothing, whatever a browser carries. An answer must bring a word
that only the pages of this link hold; Django's own word would not do, because a
browser that keeps its address secret, as these pages ask, sends no origin to check one against.
"""

from __future__ import annotations

import functools
import secrets
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.crypto import constant_time_compare, salted_hmac
from django.views.decorators.csrf import csrf_exempt

from common.guard import every_shop, only_shop
from common.visitors import is_too_often, visitor_network
from jobs.models import ChangeOrder, GuestLink, Quote
from jobs.quote import guest_link

#: What a visitor may open of one link a minute, how many wrong tokens or cookies a network may try, and how
#: often one visitor, and all together, may send an answer to a link.
PAGES_A_MINUTE: Final = 120
WRONG_TOKENS: Final = 30
ANSWERS: Final = 12
ANSWERS_OF_ALL: Final = 60
TEN_MINUTES: Final = 600
#: How long a browser may read on without the letter [s].
KEPT_S: Final = 24 * 3600
_SALT: Final = "guest door"
_NONCE: Final = 32


@dataclass(frozen=True, slots=True)
class Guest:
    """A customer inside: the link that let them in, what it leads to, the word their answers must bring."""

    link: GuestLink
    document: Quote | ChangeOrder
    word: str


GuestView = Callable[[HttpRequest, Guest], HttpResponse]


def guest_enter(request: HttpRequest, token: str, document: str, rest: str = "") -> HttpResponse:
    """Swap the token of a letter for a cookie and go on to the clean address. It answers nothing."""
    try:
        with every_shop():
            link = guest_link.link_open(token=token, at=timezone.now())
    except guest_link.LinkExpired as expired:
        return sealed(_expired(request, expired))
    except guest_link.LinkUnknown:
        return sealed(_unknown(request))
    if getattr(link, document) is None:
        return sealed(_unknown(request))
    if _reads_too_much(request, link.pk):
        return sealed(_too_often(request))
    response = redirect("jobs:guest_document", link.pk)
    response.set_cookie(
        cookie_name(link.pk),
        signing.dumps(link.token_sha256, salt=_SALT),
        max_age=KEPT_S,
        path=reverse("jobs:guest_document", args=[link.pk]),
        secure=settings.IS_HTTPS,
        httponly=True,
        samesite="Lax",
    )
    return sealed(response)


def cookie_name(pk: int) -> str:
    """Return the name of the cookie that opens one link."""
    return f"{'__Secure-' if settings.IS_HTTPS else ''}guest-{pk}"


def guest_page(view: GuestView) -> Callable[[HttpRequest, int], HttpResponse]:
    """Let in who carries the cookie of this link."""

    @csrf_exempt  # see guest_answer, and the words at the top
    @functools.wraps(view)
    def opened(request: HttpRequest, pk: int) -> HttpResponse:
        with every_shop():  # a customer may be signed in to a shop of their own
            return sealed(_opened(request, pk, view))

    return opened


def guest_answer(view: GuestView) -> Callable[[HttpRequest, int], HttpResponse]:
    """Let an answer through that a page of ours sends; whoever merely opens the address is shown the page."""

    @functools.wraps(view)
    def answered(request: HttpRequest, guest: Guest) -> HttpResponse:
        if request.method != "POST":
            return redirect("jobs:guest_document", guest.link.pk)
        if _answers_too_much(request, guest.link.pk):
            return _too_often(request)
        return view(request, guest)

    return guest_page(answered)


def is_from_our_page(request: HttpRequest, guest: Guest) -> bool:
    """Return whether an answer brings the word of the page that was shown to this very browser."""
    sent = request.POST.get("answer_word", "")
    return constant_time_compare(sent[_NONCE:], _seal(sent[:_NONCE], guest.link))


def _seal(nonce: str, link: GuestLink) -> str:
    return salted_hmac(_SALT, f"{nonce}:{link.token_sha256}", algorithm="sha256").hexdigest()


def _opened(request: HttpRequest, pk: int, view: GuestView) -> HttpResponse:
    carried = _carried(request, pk)
    if carried is None:
        return _unknown(request, is_without_cookie=True)
    if _reads_too_much(request, pk):
        return _too_often(request)
    try:
        link = guest_link.link_again(token_sha256=carried, at=timezone.now())
    except guest_link.LinkExpired as expired:
        return _expired(request, expired)
    except guest_link.LinkUnknown:
        return _unknown(request)
    document = link.quote or link.change_order
    if link.pk != pk or document is None:
        return _unknown(request)
    nonce = secrets.token_hex(_NONCE // 2)  # never twice the same: compressed pages must not tell it
    word = nonce + _seal(nonce, link)
    shop = link.job.shop
    # In the language the quote was written in, whoever opens it.
    said = translation.override(settings.LANGUAGE_CODE)
    with only_shop(shop.pk), timezone.override(zoneinfo.ZoneInfo(shop.time_zone)), said:
        return view(request, Guest(link, document, word))


def _carried(request: HttpRequest, pk: int) -> str | None:
    """Return the hash that the cookie of a link holds; None for one that is missing, too old or not ours."""
    try:
        return str(signing.loads(request.COOKIES.get(cookie_name(pk), ""), salt=_SALT, max_age=KEPT_S))
    except signing.BadSignature:
        return None


def _reads_too_much(request: HttpRequest, pk: int) -> bool:
    name = f"guest:{pk}:{visitor_network(request)}"
    return is_too_often(name, limit=PAGES_A_MINUTE, seconds=60)


def _answers_too_much(request: HttpRequest, pk: int) -> bool:
    own = f"answer:{pk}:{visitor_network(request)}"
    if is_too_often(own, limit=ANSWERS, seconds=TEN_MINUTES):
        return True
    return is_too_often(f"answer:{pk}", limit=ANSWERS_OF_ALL, seconds=TEN_MINUTES)


def sealed(response: HttpResponse) -> HttpResponse:
    """Keep the address out of referrers, search engines and caches."""
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Cache-Control"] = "no-store, private"
    return response


def _expired(request: HttpRequest, expired: guest_link.LinkExpired) -> HttpResponse:
    return render(request, "jobs/guest_expired.html", {"shop": expired.link.job.shop}, status=410)


def _unknown(request: HttpRequest, *, is_without_cookie: bool = False) -> HttpResponse:
    if is_too_often(f"wrong:{visitor_network(request)}", limit=WRONG_TOKENS, seconds=TEN_MINUTES):
        return _too_often(request)
    context = {"shop": None, "is_without_cookie": is_without_cookie}
    return render(request, "jobs/guest_unknown.html", context, status=404)


def _too_often(request: HttpRequest) -> HttpResponse:
    response = render(request, "jobs/guest_too_often.html", {"shop": None}, status=429)
    response["Retry-After"] = str(TEN_MINUTES)
    return response
