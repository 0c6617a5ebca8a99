"""Views of a tablet's own name and of the PINs that unlock it."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.http import HttpRequest, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from checklists.models import Device
from checklists.tablet.devices import device_name
from checklists.tablet.pins import KEPT_FOR, PinRefused, pin_forget, pin_person, pin_set
from checklists.tablet.wire import BadBatch, read_uuid
from checklists.views.tablet import signed_in
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest


@signed_in
@require_POST
def tablet_name(request: ShopRequest) -> JsonResponse:
    """Name the tablet that asks."""
    return _changed(request, lambda device, data, at: _named(request, device, data, at))


@signed_in
@require_POST
def tablet_pin(request: ShopRequest) -> JsonResponse:
    """Set the PIN of the person signed in, or take it away where no secret is sent."""
    return _changed(request, lambda device, data, at: _pin(request, device, data, at))


@csrf_exempt  # a person who is signed out has no token; the secret is not one a browser sends by itself
@never_cache
@require_POST
def tablet_unlock(request: HttpRequest) -> JsonResponse:
    """Sign in the person whose PIN this is: 403 where it is wrong, 401 where only the password helps."""
    try:
        data = _body(request)
        key, person, secret = read_uuid(data.get("device"), "device"), data.get("person"), data.get("secret")
    except BadBatch as problem:
        return JsonResponse({"error": str(problem)}, status=400)
    if isinstance(person, bool) or not isinstance(person, int) or not isinstance(secret, str):
        return JsonResponse({"error": "person must be a number and secret text."}, status=400)
    if not 0 < person < 2**31:
        return JsonResponse({"error": "person must be the number of a person."}, status=400)
    try:
        user = pin_person(key=key, person_pk=person, secret=secret, at=timezone.now())
    except PinRefused as refusal:
        return JsonResponse({"error": str(refusal)}, status=401 if refusal.is_gone else 403)
    login(request, user, backend=settings.AUTHENTICATION_BACKENDS[0])
    request.session.pop("is_locked", None)
    keep_signed_in(request, timezone.now())
    return JsonResponse({"person": {"id": user.pk, "name": name_of(user)}, "csrf": get_token(request)})


def keep_signed_in(request: HttpRequest, at: datetime) -> None:
    """Let a session last for as long as a PIN does, from today on."""
    today = at.date().isoformat()
    if request.session.get("kept_on") != today:  # written down once a day
        request.session["kept_on"] = today
        request.session.set_expiry(int(KEPT_FOR.total_seconds()))


def _changed(request: ShopRequest, change: Any) -> JsonResponse:
    """Answer a change of the tablet that the body names."""
    try:
        data = _body(request)
        key = read_uuid(data.get("device"), "device")
    except BadBatch as problem:
        return JsonResponse({"error": str(problem)}, status=400)
    device = get_object_or_404(Device.objects.visible_to(request.user), key=key)
    try:
        return JsonResponse(change(device, data, timezone.now()))
    except Refusal as refusal:
        return JsonResponse({"error": str(refusal)}, status=409)


def _named(request: ShopRequest, device: Device, data: dict[str, Any], at: datetime) -> dict[str, Any]:
    name = data.get("name", "")
    row = device_name(device=device, name=name if isinstance(name, str) else "", actor=request.user, at=at)
    return {"name": row.given_name}


def _pin(request: ShopRequest, device: Device, data: dict[str, Any], at: datetime) -> dict[str, Any]:
    secret = data.get("secret", "")
    if not secret:
        pin_forget(device=device, actor=request.user, at=at)
        return {"has_pin": False}
    if not isinstance(secret, str):
        raise PinRefused("The secret must be text.")
    pin_set(device=device, secret=secret, actor=request.user, at=at)
    keep_signed_in(request, at)
    return {"has_pin": True}


def _body(request: HttpRequest) -> dict[str, Any]:
    if request.content_type != "application/json":
        raise BadBatch("The body must be JSON.")
    try:
        data = json.loads(request.body)
    except (ValueError, RecursionError):
        raise BadBatch("The body is not readable JSON.") from None
    if not isinstance(data, dict):
        raise BadBatch("The body must be an object.")
    return data
