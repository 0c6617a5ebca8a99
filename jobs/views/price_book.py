"""The pages of the price book: suppliers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from jobs.forms.supplier import SupplierForm
from jobs.models import Supplier
from jobs.parts.suppliers import supplier_save
from jobs.views.access import ShopRequest, role_required


@role_required("may_design")
def supplier_list(request: ShopRequest) -> HttpResponse:
    """Show the suppliers, with how many parts come from each."""
    suppliers = Supplier.objects.visible_to(request.user).annotate(count=Count("parts")).order_by("name")
    return render(request, "jobs/supplier_list.html", {"suppliers": suppliers, "tab": "suppliers"})


@role_required("may_design")
def supplier_create(request: ShopRequest) -> HttpResponse:
    """Add a supplier."""
    return _supplier(request, Supplier(shop=request.shop))


@role_required("may_design")
def supplier_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a supplier."""
    return _supplier(request, get_object_or_404(Supplier.objects.visible_to(request.user), pk=pk))


def _supplier(request: ShopRequest, supplier: Supplier) -> HttpResponse:
    form = SupplierForm(request.POST or None, shop=request.shop, instance=supplier)
    if request.method == "POST" and form.is_valid():
        supplier_save(supplier=supplier, actor=request.user, at=timezone.now())
        messages.success(request, f"{supplier.name} is saved.")
        return redirect("jobs:supplier_list")
    context: dict[str, Any] = {"form": form, "is_new": supplier.pk is None}
    return render(request, "jobs/supplier_edit.html", context, status=422 if form.errors else 200)
