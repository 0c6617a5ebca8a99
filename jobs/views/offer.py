"""The pages of an offer at the desk: put together, named, sent; and the words with the customer."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from jobs.board.jobs import job_for_page
from jobs.forms.offer import NewOfferForm, OfferWordsForm
from jobs.forms.quote import AnswerForm, LostForm, SendForm
from jobs.models import LostReason, Offer, Quote
from jobs.quote import messages as thread
from jobs.quote import offer as offers
from jobs.quote.answer import quote_lost as lost
from jobs.quote.checks import SendCheck, send_check
from jobs.quote.follow import offers_waiting
from jobs.quote.read import quote_for_page, quotes_of_job, state_text
from jobs.shop.days import local_date
from jobs.views.access import ShopRequest, role_required
from jobs.views.quote import link_context, site_of
from jobs.views.refused import answered


@role_required("may_design")
def offer_create(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Put designs of a job side by side; what no design can tell is asked once for all."""
    job = job_for_page(request.user, job_pk)
    data = request.POST if request.method == "POST" else None  # nothing ticked is an answer too
    form = NewOfferForm(data, designs=list(job.designs.all()))
    if request.method == "POST" and form.is_valid():
        made = answered(
            request,
            lambda: offers.offer_make(
                job=job,
                designs=list(form.cleaned_data["designs"]),
                recommended=form.cleaned_data["recommended"],
                actor=request.user,
                at=timezone.now(),
                **form.options(),
            ),
        )
        if made:
            return redirect("jobs:offer_detail", made.pk)
    context = {"job": job, "tab": "quote", "form": form}
    return render(request, "jobs/offer_create.html", context, status=422 if form.errors else 200)


@role_required("sees_prices")
def offer_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show an offer with its options, what stands in the way of sending it, and where each stands."""
    offer = _offer(request, pk)
    return render(request, "jobs/offer_detail.html", _context(request, offer))


def _offer(request: ShopRequest, pk: int) -> Offer:
    rows = Offer.objects.visible_to(request.user).select_related("job__shop", "job__vehicle__customer")
    return get_object_or_404(rows, pk=pk)


def _context(request: ShopRequest, offer: Offer) -> dict[str, Any]:
    quotes = sorted(quotes_of_job(offer.job).filter(offer=offer), key=lambda quote: quote.total)
    for quote in quotes:
        quote.job = offer.job
    today = local_date(request.shop, timezone.now())
    checks = [(quote, send_check(quote, quote.run)) for quote in quotes] if offer.is_draft else []
    return {
        "job": offer.job,
        "tab": "quote",
        "offer": offer,
        "rows": [(quote, state_text(quote, on=today)) for quote in quotes],
        "comparison": offers.preview_of(offer, quotes),
        "checks": checks,
        "is_refused": any(check.refusals for _, check in checks),
        "needs_reason": _needs_reason([check for _, check in checks]),
        "words_form": OfferWordsForm(quotes=quotes, recommended=offer.recommended_id),
        "send_form": SendForm(),
        "quotes": quotes,
    }


def _needs_reason(checks: list[SendCheck]) -> bool:
    return any(check.for_owner for check in checks)


@require_POST
@role_required("may_design")
def offer_change(request: ShopRequest, pk: int) -> HttpResponse:
    """Name the options and say which is recommended."""
    offer = _offer(request, pk)
    context = _context(request, offer)
    form = OfferWordsForm(request.POST, quotes=context["quotes"], recommended=offer.recommended_id)
    if not form.is_valid():
        return render(request, "jobs/offer_detail.html", context | {"words_form": form}, status=422)
    if answered(
        request,
        lambda: offers.offer_change(
            offer=offer,
            words=form.words(),
            recommended=form.cleaned_data["recommended"],
            actor=request.user,
            at=timezone.now(),
        ),
    ):
        messages.success(request, "The names are saved.")
    return redirect("jobs:offer_detail", offer.pk)


@require_POST
@role_required("may_design")
def offer_take_apart(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a draft offer apart."""
    offer = _offer(request, pk)
    done = answered(
        request,
        lambda: offers.offer_take_apart(offer=offer, actor=request.user, at=timezone.now()) or True,
    )
    if not done:
        return redirect("jobs:offer_detail", offer.pk)
    messages.success(request, "The offer is taken apart; each quote stands on its own.")
    return redirect("jobs:quote_list", offer.job_id)


@never_cache
@require_POST
@role_required("may_design")
def offer_send(request: ShopRequest, pk: int) -> HttpResponse:
    """Send the offer and show its link, once."""
    offer = _offer(request, pk)
    form = SendForm(request.POST)
    reason = form.cleaned_data["reason"] if form.is_valid() else ""
    done = answered(
        request,
        lambda: offers.offer_send(
            offer=offer, actor=request.user, at=timezone.now(), reason=reason, site_url=site_of(request)
        ),
    )
    if not done:
        context = _context(request, _offer(request, pk)) | {"send_form": SendForm(request.POST)}
        return render(request, "jobs/offer_detail.html", context, status=422)
    link, token = done
    context = link_context(offer.job, str(offer), token=token, site_url=site_of(request))
    context |= {
        "job": offer.job,
        "tab": "quote",
        "offer": offer,
        "quote": quote_for_page(request.user, link.quote_id),
    }
    return render(request, "jobs/offer_sent.html", context)


@require_POST
@role_required("may_design")
def message_answer(request: ShopRequest, pk: int) -> HttpResponse:
    """Answer what the customer asked about a quote, or say that it was settled by phone."""
    quote: Quote = quote_for_page(request.user, pk)
    if "settled" in request.POST:
        answered(
            request,
            lambda: thread.messages_settle(quote=quote, actor=request.user, at=timezone.now()) or True,
        )
        return redirect("jobs:quote_detail", quote.pk)
    form = AnswerForm(request.POST)
    text = form.cleaned_data["text"] if form.is_valid() else ""
    if answered(
        request,
        lambda: thread.message_answer(quote=quote, text=text, actor=request.user, at=timezone.now()),
    ):
        messages.success(request, "Your answer stands on the customer's page and goes to them by mail.")
    return redirect("jobs:quote_detail", quote.pk)


@role_required("sees_prices")
def offer_follow(request: ShopRequest) -> HttpResponse:
    """List the offers that wait for an answer, those that need something first."""
    at = timezone.now()
    rows = offers_waiting(request.shop, at=at, today=local_date(request.shop, at))
    context = {"rows": rows, "reasons": LostReason.choices}
    return render(request, "jobs/offer_follow.html", context)


@require_POST
@role_required("may_design")
def quote_lost(request: ShopRequest, pk: int) -> HttpResponse:
    """Close an offer as lost, with its reason."""
    quote = quote_for_page(request.user, pk)
    form = LostForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose why it was lost; the note may have 500 characters.")
    elif answered(
        request,
        lambda: lost(quote=quote, actor=request.user, at=timezone.now(), **form.cleaned_data),
    ):
        messages.success(request, f"{quote} is closed as lost.")
    return redirect("jobs:offer_follow")
