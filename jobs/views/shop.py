"""The page of the shop's settings."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.forms.shop import ShopSettingsForm
from jobs.models import OutboxMail, Shop
from jobs.shop.outbox import mail_test
from jobs.shop.settings import shop_save
from jobs.views.access import ShopRequest, role_required

#: Letters listed on the settings page.
LETTERS_SHOWN: Final = 10


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
    mails = OutboxMail.objects.visible_to(request.user)[:LETTERS_SHOWN]
    context = {"form": form, "mails": mails, "mail_is_set_up": settings.MAIL_IS_SET_UP}
    return render(request, "jobs/shop_edit.html", context, status=422 if form.errors else 200)


@require_POST
@role_required("is_owner")
def shop_mail_test(request: ShopRequest) -> HttpResponse:
    """Send the owner a test letter; what became of it stands on the page."""
    mail_test(shop=request.shop, actor=request.user, at=timezone.now())
    return redirect(reverse("jobs:shop_edit") + "#letters")
