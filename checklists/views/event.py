"""Views of events: what a tablet sends, in any order and repeat, and what it missed."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final, TypeGuard

from django.http import HttpRequest, JsonResponse, UnreadablePostError
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from checklists.models import Checklist, Device
from checklists.record.events import Recorded, RecordRefused, Sent, events_record
from checklists.record.missed import events_after
from checklists.record.pages import checklist_or_404, checklist_to_take
from checklists.tablet.devices import Call, batch_hold, device_seen
from checklists.tablet.wire import BadBatch, Batch, FormTooOld, read_batch
from common.told import told
from common.turnstile import Turnstile, in_turn
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest

#: A batch computes for a tenth of a second or more: many tablets that come back at once stand in line.
_BATCHES: Final = Turnstile(at_once=1, waiting=3)


@never_cache
@require_http_methods(["GET", "POST"])
@in_turn(_BATCHES, "POST")
def events(request: HttpRequest, job_pk: int) -> JsonResponse:
    """Store a batch, or tell what came since a cursor.

    A signed-out tablet gets 401 and keeps its queue: a redirect to the sign-in page would look like success.
    """
    if not is_of_a_shop(request):
        return signed_out()
    if request.method == "GET":
        return _missed(request, checklist_to_take(request.user, job_pk))
    # Taken off the job meanwhile: what was recorded is taken in all the same.
    return _stored(request, checklist_or_404(request.user, job_pk))


def is_of_a_shop(request: HttpRequest) -> TypeGuard[ShopRequest]:
    """Return whether the person is signed in and belongs to a shop."""
    return request.user.is_authenticated and getattr(request, "membership", None) is not None


def signed_out() -> JsonResponse:
    """Return what a tablet is told whose session has ended."""
    return JsonResponse({"error": "Please sign in again; what is waiting is kept."}, status=401)


def _missed(request: HttpRequest, checklist: Checklist) -> JsonResponse:
    after = request.GET.get("after", "") or "0"
    if not (after.isascii() and after.isdigit() and len(after) <= 9):
        return JsonResponse({"error": "after must be a cursor of an earlier answer."}, status=400)
    return JsonResponse(events_after(checklist, int(after)))


def _stored(request: ShopRequest, checklist: Checklist) -> JsonResponse:
    """Answer a batch; every id named is safe here, so that the tablet may forget it."""
    at = timezone.now()
    try:
        body = request.body
        batch = read_batch(body)
    except FormTooOld as problem:
        return JsonResponse({"error": told(problem)}, status=426)
    except (BadBatch, UnreadablePostError) as problem:
        return JsonResponse({"error": told(problem)}, status=400)
    try:
        device = _device(request, batch, at)
        if device is not None and device.is_revoked:
            held = batch_hold(
                checklist=checklist, batch=batch, body=body, device=device, person=request.user, at=at
            )
            return JsonResponse(_answer(None) | {"held": [str(name) for name in held]})
        done = events_record(
            checklist=checklist,
            entries=batch.entries,
            actor=request.user,
            at=at,
            sent=Sent(device, batch.offset_ms),
        )
    except Refusal as refusal:
        bad = refusal.bad if isinstance(refusal, RecordRefused) else ()
        return JsonResponse({"error": told(refusal), "bad": [str(name) for name in bad]}, status=409)
    return JsonResponse(_answer(done))


def _device(request: ShopRequest, batch: Batch, at: datetime) -> Device | None:
    if batch.device is None:
        return None
    call = Call(batch.device, batch.device_name, batch.app, batch.offset_ms)
    return device_seen(shop=request.shop, call=call, person=request.user, at=at)[0]


def _answer(done: Recorded | None) -> dict[str, Any]:
    if done is None:
        return {"new": [], "known": [], "held": [], "locked_phases": [], "deviations": []}
    holds = done.work.holds
    return {
        "new": [str(name) for name in done.new],
        "known": [str(name) for name in done.known],
        "held": [],
        "locked_phases": [letter for letter in holds.letters if holds.phase_locks(letter)],
        "deviations": [
            {"pk": row.pk, "sentence": row.sentence, "verdict": row.as_built_verdict}
            for row in done.deviations
        ],
    }
