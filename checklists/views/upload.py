"""Views of pictures that come in pieces: where to go on, what is safe here, what became of them.

The shape is that of the open tus protocol (offset in a header, HEAD to ask, PATCH to add), JSON around it.
Nothing redirects: a signed-out tablet gets 401 and keeps what it has.
"""

from __future__ import annotations

import errno
import functools
import json
import re
import uuid
from collections.abc import Callable
from typing import Any, Final

from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from checklists.models import Upload
from checklists.photos.drawing import PhotoNotDrawn, PhotoRefused
from checklists.photos.uploads import (
    CHUNK,
    Announced,
    UploadRefused,
    WrongOffset,
    safe_offset,
    upload_append,
    upload_finish,
    upload_open,
)
from checklists.record.pages import checklist_for_upload, upload_or_404
from checklists.views.event import is_of_a_shop, signed_out
from common.told import told
from common.turnstile import Turnstile, in_turn
from jobs.shop.rights import NotAllowed
from jobs.views.access import ShopRequest

_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_MOST_JSON: Final = 10_000
#: Pictures are drawn one at a time: those that wait for it must not hold every thread.
_PIECES: Final = Turnstile(at_once=2, waiting=1)

View = Callable[..., HttpResponse]


class BadRequest(ValueError):
    """A request that cannot be read; says where."""


def _answers(view: View) -> View:
    """Turn what may go wrong into answers a tablet can act on."""

    @never_cache
    @functools.wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not is_of_a_shop(request):
            return signed_out()
        try:
            return view(request, *args, **kwargs)
        except BadRequest as problem:
            return _error(400, str(problem))
        except NotAllowed as problem:
            return _error(403, str(problem))
        except WrongOffset as problem:
            return _error(409, str(problem), offset=problem.offset)
        except UploadRefused as problem:
            return _error(409, str(problem))
        except PhotoRefused as problem:
            return _error(422, str(problem))
        except PhotoNotDrawn as problem:
            return _error(503, str(problem))
        except OSError as problem:
            if problem.errno not in {errno.ENOSPC, errno.EDQUOT}:
                raise
            return _error(
                507, "The server's disk is full: the photo stays on the tablet until there is room."
            )

    return answered


def _error(status: int, sentence: str, *, offset: int | None = None) -> HttpResponse:
    answer = JsonResponse({"error": told(sentence)}, status=status)
    if offset is not None:
        answer["Upload-Offset"] = str(offset)
    if status == 503:
        answer["Retry-After"] = "20"
    return answer


@require_POST
@_answers
def upload_create(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Announce a picture: 201 or 200 with the offset to go on from, or with the photo where it is here."""
    checklist = checklist_for_upload(request.user, job_pk)
    announced = read_announced(_body(request, _MOST_JSON))
    at = timezone.now()
    upload, is_new = upload_open(checklist=checklist, announced=announced, actor=request.user, at=at)
    upload = upload_finish(upload=upload, actor=request.user, at=at)
    if upload.is_over:
        return _outcome(upload)
    offset = safe_offset(upload)
    answer = JsonResponse({"offset": offset}, status=201 if is_new else 200)
    answer["Upload-Offset"] = str(offset)
    return answer


@require_http_methods(["HEAD", "PATCH"])
@in_turn(_PIECES, "PATCH")
@_answers
def upload(request: ShopRequest, pk: uuid.UUID) -> HttpResponse:
    """Tell how much is safe here, or add a piece; the last one answers with the photo."""
    found = upload_or_404(request.user, pk)
    if request.method == "HEAD":
        answer = HttpResponse()
        answer["Upload-Offset"], answer["Upload-Length"] = str(safe_offset(found)), str(found.size)
        return answer
    at = timezone.now()
    found = upload_append(
        upload=found, offset=_offset(request), data=_body(request, CHUNK), actor=request.user, at=at
    )
    found = upload_finish(upload=found, actor=request.user, at=at)
    if found.is_over:
        return _outcome(found)
    answer = HttpResponse(status=204)
    answer["Upload-Offset"] = str(found.offset)
    return answer


def _outcome(found: Upload) -> HttpResponse:
    """Answer for an upload that is over."""
    if found.refused:
        return _error(422, found.refused)
    answer = JsonResponse({"photo": str(found.photo_id)})
    answer["Upload-Offset"] = str(found.size)
    return answer


def _body(request: HttpRequest, most: int) -> bytes:
    """Return the whole body; raise BadRequest for one that was cut off, hides its length, or is too long."""
    told = request.headers.get("Content-Length") or "0"
    if "Transfer-Encoding" in request.headers or not told.isdecimal():
        raise BadRequest("The body needs a Content-Length.")
    if int(told) > most:
        raise BadRequest(f"The body may have at most {most} bytes, this one has {told}.")
    try:
        body = request.body
    except UnreadablePostError:
        body = b""
    if len(body) != int(told):
        raise BadRequest("The body was cut off; send it again.")
    return body


def _offset(request: HttpRequest) -> int:
    text = request.headers.get("Upload-Offset", "")
    if not (text.isascii() and text.isdecimal() and len(text) < 12):
        raise BadRequest("Upload-Offset must be the number of the first byte that is sent.")
    return int(text)


def read_announced(body: bytes) -> Announced:
    """Return what a body announces; raise BadRequest for anything else."""
    try:
        data = json.loads(body)
    except (ValueError, RecursionError):
        raise BadRequest("The body is not readable JSON.") from None
    if not isinstance(data, dict):
        raise BadRequest("The body must be an object.")
    size = data.get("size")
    if isinstance(size, bool) or not isinstance(size, int) or not 1 <= size < 2**31:
        raise BadRequest("size must be the number of bytes to come, at least 1.")
    sent = _hash(data, "sha256")
    return Announced(
        id=_uuid(data.get("id")),
        sent_sha256=sent,
        original_sha256=_hash(data, "original_sha256") if data.get("original_sha256") else sent,
        size=size,
        type=_text(data, "type", 100),
        device=_text(data, "device", 64),
    )


def _uuid(value: Any) -> uuid.UUID:
    try:
        return uuid.UUID(value)
    except (ValueError, TypeError, AttributeError):
        raise BadRequest("id must be a UUID made on the device.") from None


def _hash(data: dict[str, Any], name: str) -> str:
    value = data.get(name)
    if not isinstance(value, str) or not _SHA256.fullmatch(value):
        raise BadRequest(f"{name} must be a SHA-256 in 64 small hexadecimal digits.")
    return value


def _text(data: dict[str, Any], name: str, most: int) -> str:
    value = data.get(name) or ""
    if not isinstance(value, str) or len(value) > most or not value.isprintable():
        raise BadRequest(f"{name} must be text of at most {most} characters.")
    return value
