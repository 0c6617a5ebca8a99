"""Pages of the books: one per job, the age list, invoices and receipts on paper, a month as CSV."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from common.sheet_files import csv_bytes
from common.templatetags.show import money
from jobs.board.jobs import job_for_page
from jobs.forms.ledger import CreditForm, InvoiceForm, MonthForm, PaymentForm, UndoForm
from jobs.ledger import ages, export, invoice, paper, payment
from jobs.ledger.account import Account, account_of, open_of_notes
from jobs.models import Invoice, Payment
from jobs.shop.days import local_date
from jobs.views.access import ShopRequest, role_required
from jobs.views.quote import pdf_response
from jobs.views.refused import answered, on_form


@role_required("sees_prices")
@require_GET
def job_money(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show a job's account: agreed, invoices, payments, balance, and what can be done."""
    return render(
        request, "jobs/job_money.html", _context(request, account_of(job_for_page(request.user, job_pk)))
    )


@require_POST
@role_required("sees_prices")
def invoice_issue(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Issue an invoice."""
    account = account_of(job_for_page(request.user, job_pk))
    form = _invoice_form(request, account, request.POST)
    if form.is_valid():
        made = on_form(
            form,
            lambda: invoice.invoice_issue(
                job=account.job, **form.cleaned_data, actor=request.user, at=timezone.now()
            ),
        )
        if made:
            messages.success(request, f"{made} has been issued.")
            return redirect("jobs:job_money", job_pk)
    context = _context(request, account, invoice_form=form)
    return render(request, "jobs/job_money.html", context, status=422)


@require_POST
@role_required("sees_prices")
def payment_record(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Enter money received or paid back."""
    account = account_of(job_for_page(request.user, job_pk))
    form = _payment_form(request, account, request.POST)
    if form.is_valid():
        made = on_form(
            form,
            lambda: payment.payment_record(
                job=account.job, **form.cleaned_data, actor=request.user, at=timezone.now()
            ),
        )
        if made:
            messages.success(request, f"{money(abs(made.amount), made.currency)} has been entered.")
            return redirect("jobs:job_money", job_pk)
    context = _context(request, account, payment_form=form)
    return render(request, "jobs/job_money.html", context, status=422)


@role_required("takes_money")
def credit_note(request: ShopRequest, pk: int) -> HttpResponse:
    """Take back an invoice or a part of it."""
    found = _invoice(request, pk)
    job = job_for_page(request.user, found.job_id)
    left = open_of_notes(found, job.invoices.all())
    form = CreditForm(request.POST or None, shop=request.shop, left=left)
    if request.method == "POST" and form.is_valid():
        made = on_form(
            form,
            lambda: invoice.credit_note_issue(
                invoice=found, **form.cleaned_data, actor=request.user, at=timezone.now()
            ),
        )
        if made:
            messages.success(request, f"{made} has been issued.")
            return redirect("jobs:job_money", job.pk)
    context = {"job": job, "tab": "money", "invoice": found, "left": left, "form": form}
    return render(request, "jobs/credit_note.html", context, status=422 if form.errors else 200)


@role_required("takes_money")
def payment_undo(request: ShopRequest, pk: int) -> HttpResponse:
    """Take back a wrong entry by another one."""
    found = _payment(request, pk)
    form = UndoForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        done = answered(
            request,
            lambda: payment.payment_undo(
                payment=found, reason=form.cleaned_data["reason"], actor=request.user, at=timezone.now()
            ),
        )
        if done:
            messages.success(request, f"{found} has been taken back by {str(done).lower()}.")
        return redirect("jobs:job_money", found.job_id)
    context = {"job": found.job, "tab": "money", "payment": found, "form": form}
    return render(request, "jobs/payment_undo.html", context, status=422 if form.errors else 200)


@role_required("sees_prices")
@require_GET
def invoice_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    """Give an invoice or credit note as PDF."""
    found = _invoice(request, pk)
    return pdf_response(paper.invoice_pdf(found), f"invoice-{found.number}")


@role_required("sees_prices")
@require_GET
def receipt_pdf(request: ShopRequest, pk: int) -> HttpResponse:
    """Give a receipt as PDF."""
    found = _payment(request, pk)
    return pdf_response(paper.receipt_pdf(found), f"receipt-{found.number}")


@role_required("sees_prices")
@require_GET
def statement_pdf(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Give a job's statement as PDF."""
    account = account_of(job_for_page(request.user, job_pk))
    return pdf_response(paper.statement_pdf(account, on=_today(request)), f"statement-{account.job.number}")


@role_required("sees_prices")
@require_GET
def money_list(request: ShopRequest) -> HttpResponse:
    """Show what the shop's customers owe, by age, and offer its books by the month."""
    months = export.months_with_books(request.shop)
    context = {
        "ages": ages.age_list(request.shop, on=_today(request)),
        "columns": ages.names(),
        "month_form": MonthForm(months=months) if months else None,
    }
    return render(request, "jobs/money_list.html", context)


@role_required("sees_prices")
@require_GET
def money_export(request: ShopRequest) -> HttpResponse:
    """Give a month of the books as CSV."""
    try:
        month = date.fromisoformat(f"{request.GET.get('month', '')}-01")
    except ValueError:
        raise Http404 from None
    answer = HttpResponse(
        csv_bytes(export.month_rows(request.shop, month)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="books-{month:%Y-%m}.csv"'
    return answer


def _today(request: ShopRequest) -> date:
    return local_date(request.shop, timezone.now())


def _invoice(request: ShopRequest, pk: int) -> Invoice:
    return get_object_or_404(Invoice.objects.visible_to(request.user), pk=pk)


def _payment(request: ShopRequest, pk: int) -> Payment:
    related = ("job__shop", "job__vehicle__customer", "undoes")
    return get_object_or_404(Payment.objects.visible_to(request.user).select_related(*related), pk=pk)


def _invoice_form(request: ShopRequest, account: Account, data: Any = None) -> InvoiceForm:
    return InvoiceForm(
        data,
        shop=request.shop,
        today=_today(request),
        deposit=invoice.deposit_asked(account),
        left=account.left.total,
        allowance=invoice.allowance_open(account.job, account),
        prefix="invoice",
    )


def _payment_form(request: ShopRequest, account: Account, data: Any = None) -> PaymentForm:
    asked = max(account.due, payment.deposit_left(account))
    return PaymentForm(data, shop=request.shop, today=_today(request), due=asked)


def _invoice_rows(account: Account, today: date) -> list[dict[str, Any]]:
    """Return each invoice with what is still to pay of it and for how long it has been due."""
    open_now, _ = ages.open_invoices(account.invoices, account.received)
    open_by_pk = {one.invoice.pk: one for one in open_now}
    rows = []
    for each in account.invoices:
        still = open_by_pk.get(each.pk)
        past = still.days_past(today) if still else 0
        is_whole = not each.is_credit and open_of_notes(each, account.invoices) > 0
        rows.append(
            {"invoice": each, "open": still.open if still else None, "past": past, "may_credit": is_whole}
        )
    return rows


def _context(request: ShopRequest, account: Account, **forms: Any) -> dict[str, Any]:
    """Return what the page of a job's account shows; forms only to those who may use them."""
    may = request.membership.takes_money and account.agreement is not None
    if may:
        forms.setdefault("invoice_form", _invoice_form(request, account))
        forms.setdefault("payment_form", _payment_form(request, account))
    refused = [form for form in forms.values() if form.errors]
    return {
        "job": account.job,
        "tab": "money",
        "account": account,
        "invoice_rows": _invoice_rows(account, _today(request)),
        "takes_money": may,
        "can_invoice": bool(account.left.total) or not account.has_final,
        "refused_forms": refused,
        **forms,
    }
