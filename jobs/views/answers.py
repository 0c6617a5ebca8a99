"""Answers scripts of a page with JSON whose sentences speak the shop's units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import JsonResponse

import sizing
from jobs.views.access import ShopRequest


def shop_json(request: ShopRequest, answer: Mapping[str, Any], *, status: int = 200) -> JsonResponse:
    """Return the answer, every mark for a quantity opened for the shop of the request."""
    response = JsonResponse(answer, status=status, json_dumps_params={"ensure_ascii": False})
    response.content = sizing.in_units(response.content.decode(), request.shop.units).encode()
    return response
