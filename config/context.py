"""Knows what every page is given: the shop, the person's part in it."""

from __future__ import annotations

from django.http import HttpRequest


def shop(request: HttpRequest) -> dict[str, object]:
    """Return the shop and membership of the request."""
    return {"shop": getattr(request, "shop", None), "membership": getattr(request, "membership", None)}
