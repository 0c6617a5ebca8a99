"""Views of tablets: the greeting of one, and the owner's pages of all of them and of what is held."""

from __future__ import annotations

import hashlib

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from checklists.forms.held import HeldForm
from checklists.models import Device, HeldBatch
from checklists.tablet import devices
from checklists.tablet.devices_read import device_rows, held_for_page, held_lines
from checklists.tablet.pins import pin_lasts
from checklists.tablet.wire import FORM, BadBatch, read_uuid
from checklists.views.event import is_of_a_shop, signed_out
from checklists.views.pin import keep_signed_in
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@never_cache
@require_GET
def hello(request: HttpRequest) -> JsonResponse:
    """Greet a tablet: a fresh token, our clock, who is signed in, and whether this tablet is known.

    The tablet takes its offset from ``server_time`` (half the round trip later) less its own clock.
    """
    if not is_of_a_shop(request):
        return signed_out()
    at = timezone.now()
    membership = request.membership
    answer = {
        "csrf": get_token(request),
        "server_time": at.isoformat(),
        "person": {
            "id": request.user.pk,
            "name": name_of(request.user),
            "role": membership.role,
            "language": membership.language,
        },
        "app": {"version": FORM},
        "device": None,
        "has_pin": False,
        "is_locked": False,
        "session": _tag(request),
    }
    named = request.GET.get("device", "")
    if named:
        try:
            key = read_uuid(named, "device")
        except BadBatch as problem:
            return JsonResponse({"error": str(problem)}, status=400)
        call = devices.Call(key, request.GET.get("name", "")[:64], request.GET.get("app", "")[:40])
        device, is_new = devices.device_seen(shop=membership.shop, call=call, person=request.user, at=at)
        state = "revoked" if device.is_revoked else "new" if is_new else "known"
        answer["device"] = {"state": state, "name": device.given_name}
        answer["has_pin"] = pin_lasts(device=device, person=request.user, at=at)
        if answer["has_pin"]:
            keep_signed_in(request, at)
            if request.GET.get("locked"):
                request.session["is_locked"] = True
        answer["is_locked"] = bool(request.session.get("is_locked"))
    return JsonResponse(answer | {"server_time": timezone.now().isoformat()})


def _tag(request: HttpRequest) -> str:
    """Return a mark that moves with each signing in."""
    return hashlib.sha256(str(request.session.session_key).encode()).hexdigest()[:16]


@role_required("is_owner")
@require_GET
def device_list(request: ShopRequest) -> HttpResponse:
    """Show the shop's tablets and the work that is held."""
    held = HeldBatch.objects.visible_to(request.user).select_related("device", "checklist__job")
    context = {
        "devices": device_rows(request.user),
        "waiting": held.filter(state=HeldBatch.State.WAITING),
        "decided": held.exclude(state=HeldBatch.State.WAITING).order_by("-decided_at")[:50],
    }
    return render(request, "checklists/device_list.html", context)


@role_required("is_owner")
@require_POST
def device_change(request: ShopRequest, pk: str) -> HttpResponse:
    """Name, revoke or restore a tablet."""
    device = get_object_or_404(Device.objects.visible_to(request.user), pk=pk)
    change = devices.device_restore if "restore" in request.POST else devices.device_revoke
    at = timezone.now()
    try:
        if "name" in request.POST:
            devices.device_name(device=device, name=request.POST["name"], actor=request.user, at=at)
        else:
            change(device=device, actor=request.user, at=at)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect("checklists:device_list")


@role_required("is_owner")
@require_http_methods(["GET", "POST"])
def held_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a held batch, line by line; take it in or set it aside."""
    held = held_for_page(request.user, pk)
    form = HeldForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            _decide(request, held, form)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "Decided and written in the log.")
            return redirect("checklists:device_list")
    context = {"held": held, "job": held.checklist.job, "lines": held_lines(held, request.shop), "form": form}
    return render(request, "checklists/held_detail.html", context, status=422 if form.errors else 200)


def _decide(request: ShopRequest, held: HeldBatch, form: HeldForm) -> None:
    at, reason = timezone.now(), form.cleaned_data["reason"]
    if "aside" in request.POST:
        devices.batch_set_aside(held=held, reason=reason, actor=request.user, at=at)
        return
    devices.batch_take_in(
        held=held,
        actor=request.user,
        at=at,
        reason=reason,
        leave_out_bad=form.cleaned_data["leave_out_bad"],
    )
