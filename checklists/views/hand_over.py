"""Views of signatures taken on a tablet: stored whatever the record says, and told what became of them."""

from __future__ import annotations

import json
import uuid
from typing import Any

from django.http import JsonResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_POST

from checklists.record.pages import checklist_or_404
from checklists.sheet.hand_over import Signed, hand_over_sign
from checklists.views.tablet import signed_in
from common.told import told
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest

_MOST_EVENTS = 20_000


class BadSignature(ValueError):
    """A body that is no signature; says where."""


@signed_in
@require_POST
def hand_over(request: ShopRequest, job_pk: int) -> JsonResponse:
    """Store one signature; the answer names it, so that the tablet may forget it."""
    checklist = checklist_or_404(request.user, job_pk)
    try:
        signed = read_signature(request.body)
    except BadSignature as problem:
        return JsonResponse({"error": told(problem)}, status=400)
    try:
        row = hand_over_sign(checklist=checklist, signed=signed, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        return JsonResponse({"error": told(refusal)}, status=409)
    return JsonResponse({"stored": str(row.key), "counts": not row.problem, "sentence": row.problem})


def read_signature(body: bytes) -> Signed:
    """Return the signature of a body; raise BadSignature for anything else."""
    try:
        data = json.loads(body)
    except (ValueError, RecursionError):
        raise BadSignature("The body is not readable JSON; send it again.") from None
    if not isinstance(data, dict):
        raise BadSignature("The body must be an object.")
    events = data.get("events")
    if not isinstance(events, list) or len(events) > _MOST_EVENTS:
        raise BadSignature(f"events must be a list of at most {_MOST_EVENTS} UUIDs.")
    return Signed(
        id=_uuid(data.get("id"), "id"),
        part=_text(data, "part", 12),
        printed_name=_text(data, "printed_name", 150),
        signature_svg=_text(data, "signature_svg", 200_000),
        content=_text(data, "content", 2_000_000),
        content_sha256=_text(data, "content_sha256", 64),
        events=tuple(_uuid(name, "events") for name in events),
        claimed_at=_moment(data.get("at")),
    )


def _uuid(value: Any, where: str) -> uuid.UUID:
    try:
        return uuid.UUID(value)
    except (ValueError, TypeError, AttributeError):
        raise BadSignature(f"{where} must be a UUID.") from None


def _text(data: dict[str, Any], name: str, most: int) -> str:
    value = data.get(name, "")
    if not isinstance(value, str) or len(value) > most:
        raise BadSignature(f"{name} must be text of at most {most} characters.")
    return value


def _moment(value: Any) -> Any:
    try:
        found = parse_datetime(value) if isinstance(value, str) else None
    except ValueError:
        return None
    return found if found is not None and found.tzinfo is not None else None
