"""The page of the shop's settings."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from jobs.forms.shop import ShopSettingsForm
from jobs.models import Shop
from jobs.shop.settings import shop_save
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
def shop_edit(request: ShopRequest) -> HttpResponse:
    """Let the owner set the shop's name, units, rules, rates and terms."""
    # A second copy: a refused form must not change the shop that the page itself is printed with.
    found = get_object_or_404(Shop.objects.visible_to(request.user), pk=request.shop.pk)
    form = ShopSettingsForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        shop_save(shop=found, changed=form.changed_data, actor=request.user, at=timezone.now())
        messages.success(request, "Saved.")
        return redirect("jobs:shop_edit")
    return render(request, "jobs/shop_edit.html", {"form": form}, status=422 if form.errors else 200)
