"""The pages a customer opens with a link and no sign-in: read, ask, accept, decline, take the PDF along.

Opening a page never answers anything. Who may open one is decided in ``guest_door``.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django import forms
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from jobs.forms.guest import AskForm, DeclineForm, ExtrasForm, QuoteDeclineForm, SignForm
from jobs.models import ChangeOrder, Quote
from jobs.quote import guest_link, messages, pdf
from jobs.quote.answer import quote_accept, quote_decline
from jobs.quote.change_order import change_order_accept, change_order_decline
from jobs.quote.guest_read import Shown, shown
from jobs.shop.days import local_date
from jobs.shop.logo import logo_of
from jobs.views.guest_door import Guest, guest_answer, guest_enter, guest_page, is_from_our_page
from jobs.views.quote import pdf_response
from jobs.views.refused import on_form

NOT_OUR_PAGE = "This page was open for too long. Please read it once more, then send your answer again."
CHANGED = "This has changed since you opened it. Please read it again, then sign."
NEW_TOTAL = "The total below is the one with what you ticked. Please look at it, then sign."
Forms = dict[str, forms.Form]


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
@guest_page
def guest_total(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Show what it comes to with the extras ticked; what was typed so far stays. It answers nothing."""
    if request.method != "POST":
        return redirect("jobs:guest_document", guest.link.pk)
    form = SignForm(initial=request.POST.dict() | _bound_to(_shown(request, guest)))
    return _page(request, guest, sign_form=form)


@require_http_methods(["GET", "HEAD", "POST"])
@guest_answer
def guest_accept(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Take the customer's yes."""
    form = SignForm(request.POST)
    if isinstance(guest.document, ChangeOrder):
        order = guest.document
        is_shown = form.is_valid() and _is_what_was_shown(form, order.content_sha256)
        if is_shown and _is_taken(request, guest, form, lambda at: _accept_change(order, at, form)):
            return redirect("jobs:guest_document", guest.link.pk)
        return _page(request, guest, sign_form=form, status=422)
    seen = _shown(request, guest)
    is_shown = form.is_valid() and _is_what_was_shown(form, seen.content_sha256)
    is_shown = is_shown and _is_total_shown(form, seen)
    if is_shown and _is_taken(request, guest, form, lambda at: _accept(seen, at, form)):
        return redirect("jobs:guest_document", guest.link.pk)
    return _page(request, guest, sign_form=_with_new_total(form, seen), status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@guest_answer
def guest_decline(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Take the customer's no."""
    form = _decline_form(guest)(request.POST, prefix="no")
    if form.is_valid() and _is_taken(request, guest, form, lambda at: _decline(guest, at, form.cleaned_data)):
        return redirect("jobs:guest_document", guest.link.pk)
    return _page(request, guest, decline_form=form, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@guest_answer
def guest_ask(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Take a question, or a wish for a change; the answer stands on this page."""
    quote = guest.link.quote
    form = AskForm(request.POST, prefix="ask")
    if quote is None:
        raise Http404
    if form.is_valid() and _is_taken(
        request, guest, form, lambda at: messages.message_ask(quote=quote, at=at, **form.cleaned_data)
    ):
        return redirect(f"{request.path.removesuffix('ask/')}#questions")
    return _page(request, guest, ask_form=form, status=422)


@require_http_methods(["GET", "HEAD"])
@guest_page
def guest_pdf(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Give the quote, or all options of the offer, as a PDF; a change order has none."""
    if guest.link.quote is None:
        return redirect("jobs:guest_document", guest.link.pk)
    seen = _shown(request, guest)
    name = f"quote-{seen.quote.job.number}-{seen.quote.number}"
    if seen.comparison is None:
        return pdf_response(pdf.quote_pdf(seen.quote, seen.doc), name)
    return pdf_response(pdf.offer_pdf(seen.quote, seen.options, seen.comparison), name)


@require_http_methods(["GET", "HEAD"])
@guest_page
def guest_logo(request: HttpRequest, guest: Guest) -> HttpResponse:
    """Give the shop's logo."""
    logo = logo_of(guest.link.job.shop)
    if logo is None:
        raise Http404
    return HttpResponse(bytes(logo.png), content_type="image/png")


def _shown(request: HttpRequest, guest: Guest) -> Shown:
    """Return what the page shows: the option and the extras that stand in the address or the form."""
    asked = ExtrasForm(request.POST if request.method == "POST" else request.GET)
    assert guest.link.quote is not None
    return shown(guest.link.quote, number=asked.number(), chosen=asked.places())


def _bound_to(seen: Shown) -> dict[str, Any]:
    return {"content_sha256": seen.content_sha256, "shown_total": seen.sums.total}


def _with_new_total(form: SignForm, seen: Shown) -> SignForm:
    """Return the refused form bound to what its page shows now."""
    form.data = {**dict(form.data.items()), **{name: str(value) for name, value in _bound_to(seen).items()}}
    return form


def _is_total_shown(form: SignForm, seen: Shown) -> bool:
    """Return whether the sum signed under is the one of these extras; say so in the form where it is not."""
    total = form.cleaned_data["shown_total"]
    if total is None or total == seen.sums.total:
        return True
    form.add_error(None, NEW_TOTAL)
    return False


def _is_taken(
    request: HttpRequest, guest: Guest, form: forms.Form, take: Callable[[datetime], object]
) -> bool:
    """Take an answer that a page of ours sent; else say in the form why not."""
    if not is_from_our_page(request, guest):
        form.add_error(None, NOT_OUR_PAGE)
        return False
    return on_form(form, lambda: _through(guest, take)) is not None


def _through(guest: Guest, take: Callable[[datetime], object]) -> bool:
    """Take an answer while its link is held: one taken back meanwhile carries none."""
    with transaction.atomic():
        guest_link.link_hold(link=guest.link)
        take(timezone.now())
    return True


def _accept(seen: Shown, at: datetime, form: SignForm) -> None:
    quote_accept(
        quote=seen.quote,
        signed_name=form.cleaned_data["signed_name"],
        signature_svg=form.cleaned_data["signature_svg"],
        at=at,
        chosen=seen.chosen,
        shown_total=form.cleaned_data["shown_total"],
    )


def _accept_change(order: ChangeOrder, at: datetime, form: SignForm) -> None:
    signed = {name: form.cleaned_data[name] for name in ("signed_name", "signature_svg")}
    change_order_accept(order=order, through="link", at=at, **signed)


def _decline(guest: Guest, at: datetime, said: dict[str, Any]) -> None:
    document = guest.document
    if isinstance(document, Quote):
        quote_decline(quote=document, at=at, **said)
    else:
        change_order_decline(order=document, through="link", at=at, **said)


def _decline_form(guest: Guest) -> type[DeclineForm]:
    return QuoteDeclineForm if guest.link.quote_id else DeclineForm


def _is_what_was_shown(form: SignForm, content_sha256: str) -> bool:
    """Return whether the signature is under the words that stand now; say so in the form where it is not."""
    if form.cleaned_data["content_sha256"] == content_sha256:
        return True
    form.add_error(None, CHANGED)
    return False


def _page(
    request: HttpRequest,
    guest: Guest,
    *,
    sign_form: SignForm | None = None,
    decline_form: DeclineForm | None = None,
    ask_form: AskForm | None = None,
    status: int = 200,
) -> HttpResponse:
    context: dict[str, Any] = {
        "link": guest.link,
        "answer_word": guest.word,
        "sign_form": sign_form,
        "decline_form": decline_form or _decline_form(guest)(prefix="no"),
        "ask_form": ask_form or AskForm(prefix="ask"),
    }
    if isinstance(guest.document, ChangeOrder):
        return _change_page(request, guest.document, context, status)
    return _quote_page(request, guest, context, status)


def _quote_page(request: HttpRequest, guest: Guest, context: dict[str, Any], status: int) -> HttpResponse:
    seen = _shown(request, guest)
    today = local_date(seen.quote.job.shop, timezone.now())
    context |= {
        "shop": SimpleNamespace(**seen.doc["shop"]),
        "doc": seen.doc,
        "quote": seen.quote,
        "shown": seen,
        "comparison": seen.comparison,
        "logo": logo_of(seen.quote.job.shop),
        "is_open": seen.quote.is_open(on=today),
        "is_expired": seen.quote.is_sent and seen.quote.is_expired(on=today),
        "sign_form": context["sign_form"] or SignForm(initial=_bound_to(seen)),
    }
    return render(request, "jobs/guest_quote.html", context, status=status)


def _change_page(
    request: HttpRequest, order: ChangeOrder, context: dict[str, Any], status: int
) -> HttpResponse:
    doc = order.snapshot or {}
    is_expired = order.is_open and order.is_expired(at=timezone.now())
    context |= {
        "shop": SimpleNamespace(**doc["shop"]),
        "doc": doc,
        "order": order,
        "is_open": order.is_open and not is_expired,
        "is_expired": is_expired,
        "sign_form": context["sign_form"] or SignForm(initial={"content_sha256": order.content_sha256}),
    }
    return render(request, "jobs/guest_change.html", context, status=status)
