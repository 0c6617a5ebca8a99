"""The pages of vehicles."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from jobs.board.jobs import vehicle_history
from jobs.customers.customer import vehicle_save
from jobs.forms.vehicle import VehicleForm
from jobs.models import Customer, Vehicle
from jobs.views.access import ShopRequest, member_required, role_required


@member_required
def vehicle_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a vehicle and everything that was ever done on it."""
    vehicle = get_object_or_404(Vehicle.objects.visible_to(request.user).select_related("customer"), pk=pk)
    return render(request, "jobs/vehicle_detail.html", {"vehicle": vehicle, "jobs": vehicle_history(vehicle)})


@role_required("may_design")
def vehicle_create(request: ShopRequest, pk: int) -> HttpResponse:
    """Add a vehicle of a customer."""
    customer = get_object_or_404(Customer.objects.visible_to(request.user).select_related("shop"), pk=pk)
    return _vehicle_form(request, Vehicle(shop=customer.shop, customer=customer), "jobs/vehicle_create.html")


@role_required("may_design")
def vehicle_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change what is known of a vehicle."""
    vehicles = Vehicle.objects.visible_to(request.user).select_related("customer", "shop")
    return _vehicle_form(request, get_object_or_404(vehicles, pk=pk), "jobs/vehicle_edit.html")


def _vehicle_form(request: ShopRequest, vehicle: Vehicle, template: str) -> HttpResponse:
    form = VehicleForm(request.POST or None, shop=request.shop, today=timezone.localdate(), instance=vehicle)
    if request.method == "POST" and form.is_valid():
        vehicle_save(vehicle=vehicle, actor=request.user, at=timezone.now())
        messages.success(request, "Saved.")
        return redirect("jobs:vehicle_detail", vehicle.pk)
    context = {"form": form, "vehicle": vehicle, "customer": vehicle.customer}
    return render(request, template, context, status=422 if form.errors else 200)
