"""The owner's page about offers: logo, names of options, reminders."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.forms.shop_offers import LogoForm, OfferSettingsForm
from jobs.models import Shop
from jobs.shop.logo import logo_of, logo_save
from jobs.shop.settings import shop_save
from jobs.views.access import ShopRequest, role_required
from jobs.views.refused import on_form


@role_required("is_owner")
def shop_offers(request: ShopRequest) -> HttpResponse:
    """Let the owner name the options and set the days of reminders."""
    found = get_object_or_404(Shop.objects.visible_to(request.user), pk=request.shop.pk)
    form = OfferSettingsForm(request.POST if request.method == "POST" else None, shop=found)
    if request.method == "POST" and form.is_valid():
        found.option_texts, found.reminder_days = form.texts(), form.cleaned_data["reminder_days"]
        changed = ["option_texts", "reminder_days"] if form.changed_data else []
        shop_save(shop=found, changed=changed, actor=request.user, at=timezone.now())
        messages.success(request, "Saved.")
        return redirect("jobs:shop_offers")
    return _page(request, form, LogoForm())


@require_POST
@role_required("is_owner")
def shop_logo(request: ShopRequest) -> HttpResponse:
    """Take a logo, or take it away."""
    if "remove" in request.POST:
        logo_save(shop=request.shop, file=None, actor=request.user, at=timezone.now())
        messages.success(request, "The logo is removed.")
        return redirect("jobs:shop_offers")
    form = LogoForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["logo"]
        taken = on_form(
            form,
            lambda: logo_save(shop=request.shop, file=file, actor=request.user, at=timezone.now()),
            field="logo",
        )
        if taken:
            messages.success(request, "The logo stands on quotes from now on.")
            return redirect("jobs:shop_offers")
    return _page(request, OfferSettingsForm(shop=request.shop), form)


@role_required("sees_prices")
def shop_logo_png(request: ShopRequest) -> HttpResponse:
    """Give the logo."""
    logo = logo_of(request.shop)
    if logo is None:
        raise Http404
    return HttpResponse(bytes(logo.png), content_type="image/png")


def _page(request: ShopRequest, form: OfferSettingsForm, logo_form: LogoForm) -> HttpResponse:
    context = {"form": form, "logo_form": logo_form, "logo": logo_of(request.shop)}
    status = 422 if form.errors or logo_form.errors else 200
    return render(request, "jobs/shop_offers.html", context, status=status)
