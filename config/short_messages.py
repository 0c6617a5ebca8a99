"""Keeps the short messages of a page in a cookie of this host, as all other cookies."""

from __future__ import annotations

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class HostCookie(CookieStorage):
    """Django's signed cookie under our name."""

    cookie_name = f"{settings.COOKIE_PREFIX}messages"


class ShortMessages(FallbackStorage):
    """The cookie first, the session for what is too long."""

    storage_classes = (HostCookie, SessionStorage)
