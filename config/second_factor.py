"""The second factor: kept encrypted, and asked of owners where their shop wants it."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable
from typing import Any, Final

from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

#: What an owner without a second factor may open: how to get one, the language, and nothing of the shop.
_OPEN: Final = ("account/", "static/", "people/language/", "sw.js", "tablet.webmanifest")


class Factors(DefaultMFAAdapter):  # type: ignore[misc]  # untyped library
    """Keep secrets of authenticator apps and recovery codes so that the database alone does not tell them."""

    def encrypt(self, text: str) -> str:
        """Return a secret as it is stored."""
        return _box().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        """Return a stored secret."""
        return _box().decrypt(encrypted_text.encode()).decode()


def _box() -> MultiFernet:
    """Return what encrypts with the key of this installation and still reads what older keys wrote."""
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    return MultiFernet(
        Fernet(base64.urlsafe_b64encode(hashlib.sha256(("second factor:" + str(key)).encode()).digest()))
        for key in keys
    )


class OwnersSecondFactor:
    """Lead an owner without a second factor to where it is set up, in shops that want one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not _is_asked_for(request):
            return self.get_response(request)
        if request.method in ("GET", "HEAD") and not _is_script(request):
            return redirect("mfa_index")
        sentence = gettext("This shop asks its owners for a second factor. Please set one up first.")
        return JsonResponse({"error": sentence}, status=403)


def _is_asked_for(request: HttpRequest) -> bool:
    from allauth.mfa.utils import is_mfa_enabled

    membership: Any = getattr(request, "membership", None)
    if membership is None or not membership.is_owner or not membership.shop.owners_need_second_factor:
        return False
    return not request.path_info[1:].startswith(_OPEN) and not is_mfa_enabled(request.user)


def _is_script(request: HttpRequest) -> bool:
    """Return whether a script asks, to which a redirect would look like success."""
    return request.headers.get("Sec-Fetch-Mode", "navigate") != "navigate" or bool(
        request.headers.get("HX-Request")
    )
