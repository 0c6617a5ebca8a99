"""The pages a customer opens with a link and no sign-in: read, accept, decline, take the PDF along.

Opening a page never answers anything. The token in the address is the secret: whoever has it may answer, and
nobody without it can send the form, so these forms carry no second token (a browser that keeps its address
secret, as these pages ask, sends no origin to check one against).
"""

from __future__ import annotations

import functools
import zoneinfo
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_POST

from common.visitors import is_too_often, visitor_network
from jobs.forms.quote import DeclineForm, SignForm
from jobs.models import ChangeOrder, Quote
from jobs.quote import guest_link, pdf
from jobs.quote.answer import quote_accept, quote_decline
from jobs.quote.change_order import change_order_accept, change_order_decline
from jobs.shop.days import local_date
from jobs.shop.refusals import Refusal
from jobs.views.quote import pdf_response

#: What one address may open a minute, how many wrong tokens it may try, how often a document is answered.
PAGES_A_MINUTE: Final = 120
WRONG_TOKENS: Final = 30
ANSWERS: Final = 12
TEN_MINUTES: Final = 600
#: A view behind a link gets the document it leads to (a quote or a change order) and the token.
GuestView = Callable[[HttpRequest, Any, str], HttpResponse]


def guest_page(document: str) -> Callable[[GuestView], Callable[[HttpRequest, str], HttpResponse]]:
    """Open the link in the address for a view; ``document`` is what it must lead to."""

    def decorate(view: GuestView) -> Callable[[HttpRequest, str], HttpResponse]:
        @csrf_exempt
        @functools.wraps(view)
        def opened(request: HttpRequest, token: str) -> HttpResponse:
            return _sealed(_opened(request, token, document, view))

        return opened

    return decorate


def _opened(request: HttpRequest, token: str, document: str, view: GuestView) -> HttpResponse:
    address = visitor_network(request)
    if is_too_often(f"guest:{address}", limit=PAGES_A_MINUTE, seconds=60):
        return _too_often(request)
    try:
        link = guest_link.link_open(token=token, at=timezone.now())
    except guest_link.LinkExpired as expired:
        return render(request, "jobs/guest_expired.html", {"shop": expired.link.job.shop}, status=410)
    except guest_link.LinkUnknown:
        return _unknown(request, address)
    found = getattr(link, document)
    if found is None:
        return _unknown(request, address)
    if request.method == "GET":
        guest_link.link_mark_used(link=link, at=timezone.now())
    if request.method == "POST" and is_too_often(
        f"answer:{link.token_sha256}", limit=ANSWERS, seconds=TEN_MINUTES
    ):
        return _too_often(request)
    with timezone.override(zoneinfo.ZoneInfo(link.job.shop.time_zone)):  # a guest has no shop of their own
        return view(request, found, token)


def _sealed(response: HttpResponse) -> HttpResponse:
    """Keep the address out of referrers, search engines and caches."""
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Cache-Control"] = "no-store, private"
    return response


def _unknown(request: HttpRequest, address: str) -> HttpResponse:
    if is_too_often(f"wrong:{address}", limit=WRONG_TOKENS, seconds=TEN_MINUTES):
        return _too_often(request)
    return render(request, "jobs/guest_unknown.html", {"shop": None}, status=404)


def _too_often(request: HttpRequest) -> HttpResponse:
    response = render(request, "jobs/guest_too_often.html", {"shop": None}, status=429)
    response["Retry-After"] = str(TEN_MINUTES)
    return response


@guest_page("quote")
@require_GET
def guest_quote(request: HttpRequest, quote: Quote, token: str) -> HttpResponse:
    """Show the quote as it was sent. Opening it is noted and accepts nothing."""
    return _quote_page(request, quote, token)


@guest_page("quote")
@require_POST
def guest_quote_accept(request: HttpRequest, quote: Quote, token: str) -> HttpResponse:
    """Take the customer's yes."""
    form = SignForm(request.POST)
    if form.is_valid() and _is_what_was_shown(form, quote.content_sha256):
        try:
            quote_accept(
                quote=quote,
                signed_name=form.cleaned_data["signed_name"],
                signature_svg=form.cleaned_data["signature_svg"],
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("jobs:guest_quote", token)
    return _quote_page(request, quote, token, sign_form=form, status=422)


@guest_page("quote")
@require_POST
def guest_quote_decline(request: HttpRequest, quote: Quote, token: str) -> HttpResponse:
    """Take the customer's no."""
    form = DeclineForm(request.POST, prefix="no")
    if form.is_valid():
        try:
            quote_decline(quote=quote, at=timezone.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("jobs:guest_quote", token)
    return _quote_page(request, quote, token, decline_form=form, status=422)


@guest_page("quote")
@require_GET
def guest_quote_pdf(request: HttpRequest, quote: Quote, token: str) -> HttpResponse:
    """Give the quote as a PDF."""
    return pdf_response(
        pdf.quote_pdf(quote, quote.snapshot or {}), f"quote-{quote.job.number}-{quote.number}"
    )


def _is_what_was_shown(form: SignForm, content_sha256: str) -> bool:
    """Return whether the signature is under the words that stand now; say so in the form where it is not."""
    if form.cleaned_data["content_sha256"] == content_sha256:
        return True
    form.add_error(None, "This has changed since you opened it. Please read it again, then sign.")
    return False


def _quote_page(
    request: HttpRequest,
    quote: Quote,
    token: str,
    *,
    sign_form: SignForm | None = None,
    decline_form: DeclineForm | None = None,
    status: int = 200,
) -> HttpResponse:
    doc = quote.snapshot or {}
    today = local_date(quote.job.shop, timezone.now())
    context: dict[str, Any] = {
        "shop": SimpleNamespace(**doc["shop"]),
        "doc": doc,
        "quote": quote,
        "token": token,
        "is_open": quote.is_open(on=today),
        "is_expired": quote.is_sent and quote.is_expired(on=today),
        "sign_form": sign_form or SignForm(initial={"content_sha256": quote.content_sha256}),
        "decline_form": decline_form or DeclineForm(prefix="no"),
    }
    return render(request, "jobs/guest_quote.html", context, status=status)


@guest_page("change_order")
@require_GET
def guest_change(request: HttpRequest, order: ChangeOrder, token: str) -> HttpResponse:
    """Show a change order as it was sent."""
    return _change_page(request, order, token)


@guest_page("change_order")
@require_POST
def guest_change_accept(request: HttpRequest, order: ChangeOrder, token: str) -> HttpResponse:
    """Take the customer's signature under a change order."""
    form = SignForm(request.POST)
    if form.is_valid() and _is_what_was_shown(form, order.content_sha256):
        try:
            change_order_accept(
                order=order,
                signed_name=form.cleaned_data["signed_name"],
                signature_svg=form.cleaned_data["signature_svg"],
                through="link",
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("jobs:guest_change", token)
    return _change_page(request, order, token, sign_form=form, status=422)


@guest_page("change_order")
@require_POST
def guest_change_decline(request: HttpRequest, order: ChangeOrder, token: str) -> HttpResponse:
    """Take the customer's no to a change order."""
    form = DeclineForm(request.POST, prefix="no")
    if form.is_valid():
        try:
            change_order_decline(order=order, through="link", at=timezone.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("jobs:guest_change", token)
    return _change_page(request, order, token, decline_form=form, status=422)


def _change_page(
    request: HttpRequest,
    order: ChangeOrder,
    token: str,
    *,
    sign_form: SignForm | None = None,
    decline_form: DeclineForm | None = None,
    status: int = 200,
) -> HttpResponse:
    doc = order.snapshot or {}
    is_expired = order.is_open and order.is_expired(at=timezone.now())
    context: dict[str, Any] = {
        "shop": SimpleNamespace(**doc["shop"]),
        "doc": doc,
        "order": order,
        "token": token,
        "is_open": order.is_open and not is_expired,
        "is_expired": is_expired,
        "sign_form": sign_form or SignForm(initial={"content_sha256": order.content_sha256}),
        "decline_form": decline_form or DeclineForm(prefix="no"),
    }
    return render(request, "jobs/guest_change.html", context, status=status)
