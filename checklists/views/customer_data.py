"""The page on which an owner hands out or erases what is kept about a customer."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.erasure import ErasureForm
from checklists.office.erasure import customer_erase, is_erased, open_jobs
from checklists.office.handed_over import customer_data as data_of
from jobs.models import Customer
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
@require_GET
def customer_data(request: ShopRequest, pk: int) -> HttpResponse:
    """Show what can be done with what is kept about a customer."""
    return _page(request, _customer(request, pk), ErasureForm())


@role_required("is_owner")
@require_POST
def customer_data_file(request: ShopRequest, pk: int) -> HttpResponse:
    """Hand out data and papers of a customer as a file."""
    customer = _customer(request, pk)
    data = data_of(customer=customer, actor=request.user, at=timezone.now())
    answer = HttpResponse(data, content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="customer-{customer.pk}.zip"'
    return answer


@role_required("is_owner")
@require_POST
def customer_erasure(request: ShopRequest, pk: int) -> HttpResponse:
    """Erase a customer for a reason."""
    customer, form = _customer(request, pk), ErasureForm(request.POST)
    if form.is_valid():
        try:
            customer_erase(
                customer=customer, reason=form.cleaned_data["reason"], actor=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("The person was erased. Sheets are printed anew without the name."))
            return redirect("jobs:customer_detail", customer.pk)
    return _page(request, customer, form)


def _customer(request: ShopRequest, pk: int) -> Customer:
    return get_object_or_404(Customer.objects.visible_to(request.user).select_related("shop"), pk=pk)


def _page(request: ShopRequest, customer: Customer, form: forms.Form) -> HttpResponse:
    context = {"customer": customer, "form": form, "still": open_jobs(customer), "gone": is_erased(customer)}
    status = 422 if form.errors else 200
    return render(request, "checklists/customer_data.html", context, status=status)
