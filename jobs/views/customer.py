"""The pages of customers."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from jobs.customers.customer import customer_save
from jobs.forms.customer import CustomerForm
from jobs.models import Customer, Job
from jobs.views.access import ShopRequest, member_required, role_required

PAGE_SIZE = 50


@member_required
def customer_list(request: ShopRequest) -> HttpResponse:
    """Show the shop's customers by name."""
    customers = Customer.objects.visible_to(request.user).annotate(vehicles_count=Count("vehicles"))
    customers = customers.order_by("name", "pk")  # a counted list loses the model's own order
    page = Paginator(customers, PAGE_SIZE).get_page(request.GET.get("page"))
    return render(request, "jobs/customer_list.html", {"page": page})


@member_required
def customer_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show one customer, their vehicles and jobs."""
    customer = get_object_or_404(Customer.objects.visible_to(request.user), pk=pk)
    jobs = Job.objects.visible_to(request.user).filter(vehicle__customer=customer)
    context = {
        "customer": customer,
        "vehicles": customer.vehicles.all(),
        "jobs": jobs.select_related("vehicle")[:PAGE_SIZE],
    }
    return render(request, "jobs/customer_detail.html", context)


@role_required("may_design")
def customer_create(request: ShopRequest) -> HttpResponse:
    """Add a customer."""
    return _customer_form(request, Customer(shop=request.shop), "jobs/customer_create.html")


@role_required("may_design")
def customer_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a customer."""
    customer = get_object_or_404(Customer.objects.visible_to(request.user).select_related("shop"), pk=pk)
    return _customer_form(request, customer, "jobs/customer_edit.html")


def _customer_form(request: ShopRequest, customer: Customer, template: str) -> HttpResponse:
    form = CustomerForm(request.POST or None, units=request.shop.units, instance=customer)
    if request.method == "POST" and form.is_valid():
        customer_save(customer=customer, actor=request.user, at=timezone.now())
        messages.success(request, "Saved.")
        return redirect("jobs:customer_detail", customer.pk)
    context = {"form": form, "customer": customer}
    return render(request, template, context, status=422 if form.errors else 200)
