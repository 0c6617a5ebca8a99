"""How often one address may ask for a page that needs no sign-in. Counts live in the cache."""

from __future__ import annotations

from allauth.account.adapter import get_adapter
from django.core.cache import cache
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """Return the address a request came from, proxies in front of us looked through as configured."""
    try:
        return str(get_adapter().get_client_ip(request))
    except PermissionDenied:
        return "unknown"


def is_too_often(name: str, *, limit: int, seconds: int) -> bool:
    """Count one more of ``name`` and return whether that is past ``limit`` within ``seconds``."""
    key = f"throttle:{name}"
    cache.add(key, 0, timeout=seconds)
    try:
        return cache.incr(key) > limit
    except ValueError:  # it ran out between the two calls: a new stretch begins
        cache.set(key, 1, timeout=seconds)
        return False
