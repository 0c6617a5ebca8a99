"""The pages a customer opens with a link and no sign-in: read, accept, decline, take the PDF along.

Opening a page never answers anything. Who may open one is decided in ``guest_door``.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from jobs.forms.quote import DeclineForm, SignForm
from jobs.models import Quote
from jobs.quote import guest_link, pdf
from jobs.quote.answer import quote_accept, quote_decline
from jobs.quote.change_order import change_order_accept, change_order_decline
from jobs.shop.days import local_date
from jobs.shop.refusals import Refusal
from jobs.views.guest_door import Guest, guest_answer, guest_enter, guest_page, is_from_our_page
from jobs.views.quote import pdf_response

NOT_OUR_PAGE = "This page was open for too long. Please read it once more, then send your answer again."


@csrf_exempt  # an answer sent to the address of the letter is not taken: the page is shown
@require_http_methods(["GET", "HEAD", "POST"])
def guest_quote(request: HttpRequest, token: str, rest: str = "") -> HttpResponse:
    """Let a customer in to a quote."""
    return guest_enter(request, token, "quote")


@csrf_exempt  # the same
@require_http_methods(["GET", "HEAD", "POST"])
def guest_change(request: HttpRequest, token: str, rest: str = "") -> HttpResponse:
    """Let a customer in to a change order."""
    return guest_enter(request, token, "change_order")


@require_http_methods(["GET", "HEAD"])
@guest_page
def guest_document(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Show the document as it was sent. Opening it is noted and accepts nothing."""
    if request.method == "GET":
        guest_link.link_mark_used(link=guest.link, at=timezone.now())
    return _page(request, guest)


@require_http_methods(["GET", "HEAD", "POST"])
@guest_answer
def guest_accept(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Take the customer's yes."""
    form = SignForm(request.POST)
    if form.is_valid() and _is_what_was_shown(form, guest.document.content_sha256):
        signed = {name: form.cleaned_data[name] for name in ("signed_name", "signature_svg")}
        if _is_taken(request, guest, form, lambda at: _accept(guest, at, signed)):
            return redirect("jobs:guest_document", guest.link.pk)
    return _page(request, guest, sign_form=form, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@guest_answer
def guest_decline(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Take the customer's no."""
    form = DeclineForm(request.POST, prefix="no")
    if form.is_valid() and _is_taken(request, guest, form, lambda at: _decline(guest, at, form.cleaned_data)):
        return redirect("jobs:guest_document", guest.link.pk)
    return _page(request, guest, decline_form=form, status=422)


@require_http_methods(["GET", "HEAD"])
@guest_page
def guest_pdf(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Give the quote as a PDF; a change order has none."""
    quote = guest.link.quote
    if quote is None:
        return redirect("jobs:guest_document", guest.link.pk)
    return pdf_response(
        pdf.quote_pdf(quote, quote.snapshot or {}), f"quote-{quote.job.number}-{quote.number}"
    )


def _is_taken(
    request: HttpRequest, guest: Guest, form: SignForm | DeclineForm, take: Callable[[datetime], object]
) -> bool:
    """Take an answer that a page of ours sent; else say in the form why not."""
    if not is_from_our_page(request, guest):
        form.add_error(None, NOT_OUR_PAGE)
        return False
    try:
        take(timezone.now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return False
    return True


def _accept(guest: Guest, at: datetime, signed: dict[str, str]) -> None:
    document = guest.document
    if isinstance(document, Quote):
        quote_accept(
            quote=document,
            at=at,
            signed_name=signed["signed_name"],
            signature_svg=signed["signature_svg"],
        )
    else:
        change_order_accept(order=document, through="link", at=at, **signed)


def _decline(guest: Guest, at: datetime, said: dict[str, Any]) -> None:
    document = guest.document
    if isinstance(document, Quote):
        quote_decline(quote=document, at=at, **said)
    else:
        change_order_decline(order=document, through="link", at=at, **said)


def _is_what_was_shown(form: SignForm, content_sha256: str) -> bool:
    """Return whether the signature is under the words that stand now; say so in the form where it is not."""
    if form.cleaned_data["content_sha256"] == content_sha256:
        return True
    form.add_error(None, "This has changed since you opened it. Please read it again, then sign.")
    return False


def _page(
    request: HttpRequest,
    guest: Guest,
    *,
    sign_form: SignForm | None = None,
    decline_form: DeclineForm | None = None,
    status: int = 200,
) -> HttpResponse:
    document = guest.document
    doc = document.snapshot or {}
    context: dict[str, Any] = {
        "shop": SimpleNamespace(**doc["shop"]),
        "doc": doc,
        "link": guest.link,
        "answer_word": guest.word,
        "sign_form": sign_form or SignForm(initial={"content_sha256": document.content_sha256}),
        "decline_form": decline_form or DeclineForm(prefix="no"),
    }
    if isinstance(document, Quote):
        today = local_date(document.job.shop, timezone.now())
        context |= {
            "quote": document,
            "is_open": document.is_open(on=today),
            "is_expired": document.is_sent and document.is_expired(on=today),
        }
        return render(request, "jobs/guest_quote.html", context, status=status)
    is_expired = document.is_open and document.is_expired(at=timezone.now())
    context |= {
        "order": document,
        "is_open": document.is_open and not is_expired,
        "is_expired": is_expired,
    }
    return render(request, "jobs/guest_change.html", context, status=status)
