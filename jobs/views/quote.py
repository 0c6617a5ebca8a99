"""The pages of a quote at the desk: list, new, lines, what the customer will see, sending."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import quote as url_quote

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from jobs.board.jobs import job_for_page
from jobs.forms.prices import MissingPricesForm
from jobs.forms.quote import AnswerForm, EditsForm, NewQuoteForm, QuoteDesk, ReasonForm, SendForm
from jobs.models import Design, GuestLink, Job, Part, Quote
from jobs.quote import draft, guest_link, guest_mail, pdf, prices, rerun, send
from jobs.quote.checks import margin_verdict, send_check
from jobs.quote.compare import comparison
from jobs.quote.lines import draft_of
from jobs.quote.messages import thread
from jobs.quote.read import (
    job_money,
    line_groups,
    quote_for_page,
    quotes_of_job,
    state_text,
    two_ways,
)
from jobs.shop.days import local_date
from jobs.views.access import ShopRequest, role_required
from jobs.views.refused import answered

#: Letters listed beside a quote's links.
LETTERS_SHOWN: Final = 5


@role_required("sees_prices")
def quote_list(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show a job's quotes, options side by side, its change orders and what it all comes to."""
    job = job_for_page(request.user, job_pk)
    return render(request, "jobs/quote_list.html", _list_context(request, job))


def _list_context(request: ShopRequest, job: Job) -> dict[str, Any]:
    found = list(quotes_of_job(job))
    today = local_date(request.shop, timezone.now())
    return {
        "job": job,
        "tab": "quote",
        "rows": [(quote, state_text(quote, on=today)) for quote in found],
        "comparison": comparison(found, shop=request.shop),
        "designs": job.designs.all(),
        "offers": job.offers.prefetch_related("quotes__design"),
        "money": job_money(job),
    }


@role_required("may_design")
def quote_create(request: ShopRequest, pk: int) -> HttpResponse:
    """Start a quote on a design; the form asks only what no design can tell."""
    designs = Design.objects.visible_to(request.user).select_related("job__shop", "job__vehicle__customer")
    design = get_object_or_404(designs, pk=pk)
    form, stale = NewQuoteForm(request.POST or None), draft.stale_words(design)
    if not stale and request.method == "POST" and (form.is_valid() or not form.is_bound):
        options = form.options() if form.is_bound else {}
        made = answered(
            request,
            lambda: draft.quote_create(design=design, actor=request.user, at=timezone.now(), **options),
        )
        return redirect("jobs:quote_edit", made.pk) if made else redirect("jobs:design_detail", design.pk)
    context = {"job": design.job, "tab": "quote", "design": design, "form": form, "stale": stale}
    refused = form.errors or (stale and request.method == "POST")
    return render(request, "jobs/quote_create.html", context, status=422 if refused else 200)


@role_required("sees_prices")
def quote_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show one quote with its sums, its margin, and what stands in the way of sending it."""
    quote = quote_for_page(request.user, pk)
    return render(request, "jobs/quote_detail.html", _detail_context(request, quote))


def _detail_context(request: ShopRequest, quote: Quote) -> dict[str, Any]:
    shop, at = request.shop, timezone.now()
    lines = list(quote.lines.all())
    _, sums = draft.sums_of(
        quote=quote, terms=draft.terms_of(quote), lines=[draft_of(line) for line in lines]
    )
    return {
        "job": quote.job,
        "tab": "quote",
        "quote": quote,
        "state_text": state_text(quote, on=local_date(shop, at)),
        "groups": line_groups(lines),
        "scope": quote.scope_items.all(),
        "sums": sums,
        "two_ways": two_ways(sums.parts_cost, shop),
        "margin_verdict": margin_verdict(
            quote.margin_fraction, caution=shop.margin_caution, block=shop.margin_block
        ),
        "check": send_check(quote, quote.run) if quote.is_draft else None,
        "prices_form": MissingPricesForm(lines=lines, edits=quote.edits) if quote.is_draft else None,
        "links": [link for link in quote.links.all() if link.expires_at > at],
        "mails": quote.job.mails.filter(about=str(quote))[:LETTERS_SHOWN],
        "messages_shown": thread(quote),
        "moved": rerun.moved_words(quote) if quote.is_sent and request.membership.may_design else [],
        "answer_form": AnswerForm(),
        "send_form": SendForm(),
        "reason_form": ReasonForm(),
    }


@require_POST
@role_required("may_design")
def quote_prices(request: ShopRequest, pk: int) -> HttpResponse:
    """Put the prices that were missing into a draft's lines and into the catalog."""
    quote = quote_for_page(request.user, pk)
    form = MissingPricesForm(request.POST, lines=quote.lines.all(), edits=quote.edits)
    if not form.is_valid():
        context = _detail_context(request, quote) | {"prices_form": form}
        return render(request, "jobs/quote_detail.html", context, status=422)
    filled = answered(
        request,
        lambda: prices.prices_fill(
            quote=quote,
            prices=form.prices(),
            edits=form.cleaned_data["edits"],
            actor=request.user,
            at=timezone.now(),
        ),
    )
    if filled:
        messages.success(request, f"{filled} is priced anew; costs of parts are in the catalog.")
    return redirect("jobs:quote_detail", quote.pk)


@role_required("may_design")
def quote_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Price a draft. Without ``save`` in what is posted nothing is stored: the answer is the live total."""
    quote = quote_for_page(request.user, pk)
    if not quote.is_draft:
        messages.warning(request, f"{quote} has been sent and cannot be changed. Make a copy to change it.")
        return redirect("jobs:quote_detail", quote.pk)
    parts = Part.objects.visible_to(request.user).filter(is_active=True)
    desk = QuoteDesk(quote=quote, parts=parts, data=request.POST or None)
    is_readable = desk.is_valid() if request.method == "POST" else False
    if request.method == "POST" and "save" not in request.POST:
        return _preview(request, desk, is_readable)
    if is_readable:
        saved = answered(
            request,
            lambda: draft.quote_price(
                quote=Quote(pk=quote.pk),
                terms=desk.terms_form.terms(),
                lines=desk.lines(),
                scope=desk.scope_items(),
                edits=desk.terms_form.cleaned_data["edits"],
                actor=request.user,
                at=timezone.now(),
            ),
        )
        if saved:
            messages.success(request, f"{saved} is saved.")
            return redirect("jobs:quote_detail", quote.pk)
    return _desk_page(request, desk, status=422 if request.method == "POST" else 200)


def _preview(request: ShopRequest, desk: QuoteDesk, is_readable: bool) -> HttpResponse:
    """Answer with the totals of what is typed, alone for htmx, else on the whole page with all of it kept."""
    if not request.headers.get("HX-Request"):
        return _desk_page(request, desk, status=200 if is_readable else 422)
    context = _totals_context(request, desk, is_readable) | {"is_live": True}
    return render(request, "jobs/_quote_totals.html", context)


def _totals_context(request: ShopRequest, desk: QuoteDesk, is_readable: bool) -> dict[str, Any]:
    if not is_readable:
        return {"unreadable": desk.errors(), "quote": desk.quote}
    _, sums = draft.sums_of(quote=desk.quote, terms=desk.terms_form.terms(), lines=desk.lines())
    shop = request.shop
    return {
        "quote": desk.quote,
        "sums": sums,
        "two_ways": two_ways(sums.parts_cost, shop),
        "margin_verdict": margin_verdict(
            sums.margin_fraction, caution=shop.margin_caution, block=shop.margin_block
        ),
    }


def _desk_page(request: ShopRequest, desk: QuoteDesk, *, status: int) -> HttpResponse:
    is_bound = desk.terms_form.is_bound
    context = {
        "job": desk.quote.job,
        "tab": "quote",
        "quote": desk.quote,
        "desk": desk,
        "catalogue": desk.catalogue,
        "tasks": desk.tasks,
        "error_lines": desk.errors() if is_bound else [],
        "summary_form": desk.terms_form,
    }
    if is_bound:
        context |= _totals_context(request, desk, desk.is_valid())
    else:
        context |= _stored_totals(request, desk.quote)
    return render(request, "jobs/quote_edit.html", context, status=status)


def _stored_totals(request: ShopRequest, quote: Quote) -> dict[str, Any]:
    detail = _detail_context(request, quote)
    return {name: detail[name] for name in ("sums", "two_ways", "margin_verdict")}


@role_required("sees_prices")
def quote_preview(request: ShopRequest, pk: int) -> HttpResponse:
    """Show what the customer reads, or would read if it were sent today."""
    quote = quote_for_page(request.user, pk)
    today = local_date(request.shop, timezone.now())
    context = {"doc": send.document_of(quote, on=today), "quote": quote, "job": quote.job, "tab": "quote"}
    return render(request, "jobs/quote_preview.html", context)


@never_cache
@role_required("may_design")
def quote_send(request: ShopRequest, pk: int) -> HttpResponse:
    """Send a draft and show its link, once."""
    quote = quote_for_page(request.user, pk)
    form = SendForm(request.POST or None)
    if request.method == "POST":
        reason = form.cleaned_data["reason"] if form.is_valid() else ""
        done = answered(
            request,
            lambda: send.quote_send(
                quote=quote, actor=request.user, at=timezone.now(), reason=reason, site_url=site_of(request)
            ),
        )
        if done:
            return _link_page(request, quote, token=done[1])
        return redirect("jobs:quote_detail", quote.pk)
    context = _detail_context(request, quote) | {"send_form": form}
    return render(request, "jobs/quote_send.html", context)


@never_cache
@require_POST
@role_required("may_design")
def quote_link(request: ShopRequest, pk: int) -> HttpResponse:
    """Make a new link in place of a lost one and show it, once."""
    quote = quote_for_page(request.user, pk)
    done = answered(
        request,
        lambda: send.quote_link(
            quote=quote, actor=request.user, at=timezone.now(), site_url=site_of(request)
        ),
    )
    return _link_page(request, quote, token=done[1]) if done else redirect("jobs:quote_detail", quote.pk)


def _link_page(request: ShopRequest, quote: Quote, *, token: str) -> HttpResponse:
    quote = quote_for_page(request.user, quote.pk)
    context = link_context(quote.job, str(quote.offer or quote), token=token, site_url=site_of(request))
    return render(
        request, "jobs/quote_sent.html", context | {"quote": quote, "job": quote.job, "tab": "quote"}
    )


def link_context(
    job: Job, what: str, *, token: str, site_url: str, is_change: bool = False
) -> dict[str, Any]:
    """Return the link to copy and the letter for the person's own mail program."""
    customer, shop = job.vehicle.customer, job.shop
    url = guest_link.link_url(token, is_change=is_change, site_url=site_url)
    body = guest_mail.letter(
        customer_name=customer.name, shop_name=shop.name, phone=shop.phone, what=what, url=url
    )
    subject = f"{shop.name}: {what} for your {job.vehicle}"
    mailto = f"mailto:{customer.email}?subject={url_quote(subject)}&body={url_quote(body)}"
    return {
        "link_url": url,
        "mailto": mailto,
        "customer": customer,
        "mail_is_set_up": settings.MAIL_IS_SET_UP,
    }


@require_POST
@role_required("may_design")
def link_revoke(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a customer's link back."""
    link = get_object_or_404(GuestLink.objects.visible_to(request.user).select_related("job__shop"), pk=pk)
    answered(request, lambda: guest_link.link_revoke(link=link, actor=request.user, at=timezone.now()))
    messages.success(request, "The link no longer works.")
    if link.quote_id:
        return redirect("jobs:quote_detail", link.quote_id)
    return redirect("jobs:change_order_detail", link.change_order_id)


@role_required("may_design")
def quote_again(request: ShopRequest, pk: int) -> HttpResponse:
    """Show line by line what a draft would become if it were proposed today, and do it when told."""
    quote = quote_for_page(request.user, pk)
    if request.method == "POST":
        form = EditsForm(request.POST)
        edits = form.cleaned_data["edits"] if form.is_valid() else -1
        if answered(
            request,
            lambda: rerun.quote_rerun(quote=quote, edits=edits, actor=request.user, at=timezone.now()),
        ):
            messages.success(request, "The lines follow today's design and prices; your edits stayed.")
            return redirect("jobs:quote_detail", quote.pk)
        return redirect("jobs:quote_again", quote.pk)
    found = rerun.rerun_of(quote) if quote.is_draft else None
    context = {"job": quote.job, "tab": "quote", "quote": quote, "rerun": found}
    return render(request, "jobs/quote_again.html", context)


@require_POST
@role_required("may_design")
def quote_review(request: ShopRequest, pk: int) -> HttpResponse:
    """Note that a second person read the draft over."""
    quote = quote_for_page(request.user, pk)
    if answered(request, lambda: draft.quote_review(quote=quote, actor=request.user, at=timezone.now())):
        messages.success(request, "Recorded: you have read it over.")
    return redirect("jobs:quote_detail", quote.pk)


@require_POST
@role_required("may_design")
def quote_copy(request: ShopRequest, pk: int) -> HttpResponse:
    """Start a new draft with the lines of this quote."""
    quote = quote_for_page(request.user, pk)
    made = answered(request, lambda: draft.quote_copy(quote=quote, actor=request.user, at=timezone.now()))
    return redirect("jobs:quote_edit", made.pk) if made else redirect("jobs:quote_detail", quote.pk)


@require_POST
@role_required("may_design")
def quote_withdraw(request: ShopRequest, pk: int) -> HttpResponse:
    """Take back a quote that is out."""
    quote = quote_for_page(request.user, pk)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Please say why the quote is withdrawn.")
    elif answered(
        request,
        lambda: send.quote_withdraw(
            quote=quote, reason=form.cleaned_data["reason"], actor=request.user, at=timezone.now()
        ),
    ):
        messages.success(request, f"{quote} has been withdrawn. Its link still opens and says so.")
    return redirect("jobs:quote_detail", quote.pk)


@role_required("sees_prices")
def quote_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    """Give the quote as the customer's PDF; a draft says that it is one."""
    quote = quote_for_page(request.user, pk)
    today = local_date(request.shop, timezone.now())
    return pdf_response(
        pdf.quote_pdf(quote, send.document_of(quote, on=today)), f"quote-{quote.job.number}-{quote.number}"
    )


def pdf_response(content: bytes, name: str) -> HttpResponse:
    """Return a PDF that opens in the browser under a name of its own."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def site_of(request: HttpRequest) -> str:
    return request.build_absolute_uri("/")
