"""Answers scripts of a page with JSON whose sentences speak the shop's units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django.http import JsonResponse

import sizing
from common.told import told
from jobs.views.access import ShopRequest

#: What holds sentences of ours; names, labels and keys come back and are stored.
_SENTENCES: Final = frozenset(
    {
        "sentence",
        "sentences",
        "words",
        "says",
        "why",
        "reason",
        "error",
        "problem",
        "action",
        "hint",
        "refused",
    }
)


def shop_json(request: ShopRequest, answer: Mapping[str, Any], *, status: int = 200) -> JsonResponse:
    """Return the answer: sentences in the person's language, marks for quantities opened for the shop."""
    response = JsonResponse(_said(answer), status=status, json_dumps_params={"ensure_ascii": False})
    response.content = sizing.in_units(response.content.decode(), request.shop.units).encode()
    return response


def _said(answer: Any, key: str = "") -> Any:
    """Return an answer with its sentences as they are said; the rest as it is."""
    if isinstance(answer, Mapping):
        return {name: _said(value, str(name)) for name, value in answer.items()}
    if isinstance(answer, list | tuple):
        return [_said(each, key) for each in answer]
    return told(answer) if key in _SENTENCES and isinstance(answer, str) and " " in answer else answer
