"""Takes in a picture by pieces: each piece safe before it is acknowledged, the whole stored once.

Order within a piece: bytes to the disk, then the row, both under the row's lock. A stop in between leaves
bytes that nobody was promised; the next piece writes over them. The row never promises what is not there.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from checklists.models import Checklist, Photo, Upload
from checklists.photos.drawing import PhotoNotDrawn, PhotoRefused, draw
from checklists.photos.files import file_drop, file_size, file_whole, file_write_at
from checklists.photos.photos import Picture, photo_keep, refuse_size
from common.told import in_english
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: Largest piece. [bytes]
CHUNK: Final = 256 * 1024
#: What a device may call a picture it sends.
TYPES: Final = ("image/jpeg", "image/png", "image/webp", "image/heic", "image/heif")
#: A whole that is not what was announced, or cannot be looked at, is asked for so often, then refused.
MOST_TRIES: Final = 5


class UploadRefused(Refusal):
    """This is no piece of this upload; says why."""


class WrongOffset(UploadRefused):
    """The piece does not begin where the last one ended."""

    def __init__(self, offset: int, sentence: str = "") -> None:
        super().__init__(sentence or f"The next byte to send is number {offset}.")
        self.offset = offset


@dataclass(frozen=True, slots=True)
class Announced:
    """What a device says it will send."""

    id: UUID
    sent_sha256: str
    original_sha256: str
    size: int
    type: str
    device: str = ""


@in_english
def upload_open(
    *, checklist: Checklist, announced: Announced, actor: User, at: datetime
) -> tuple[Upload, bool]:
    """Return the upload and whether it is new; a picture this job has already is over at once.

    Raise PhotoRefused for what can never be stored, UploadRefused for an id used for something else.
    """
    require(actor, checklist.job.shop, "may_install")
    if announced.type not in TYPES:
        raise PhotoRefused(f"A photo is JPEG, PNG, WebP or HEIC, not {announced.type[:40] or 'nameless'}.")
    refuse_size(announced.size)
    known = Photo.objects.filter(checklist=checklist, sent_sha256=announced.sent_sha256).first()
    upload, is_new = Upload.objects.get_or_create(
        id=announced.id,
        defaults={
            "checklist": checklist,
            "sent_sha256": announced.sent_sha256,
            "original_sha256": announced.original_sha256,
            "size": announced.size,
            "device": announced.device[:64],
            "by": actor,
            "photo": known,
            "begun_at": at,
            "touched_at": at,
        },
    )
    same = (upload.checklist_id, upload.sent_sha256, upload.size)
    if same != (checklist.pk, announced.sent_sha256, announced.size):
        raise UploadRefused("This upload's id was used before for something else.")
    if known is not None and not upload.is_over:
        Upload.objects.filter(pk=upload.pk).update(photo=known)
        upload.photo = known
        drop_file(upload)
    return upload, is_new


def part_name(pk: UUID) -> str:
    """Return the name of the file an upload's bytes wait in."""
    return f"uploads/{pk}.part"


def safe_offset(upload: Upload) -> int:
    """Return how many bytes are safe; fewer than the row says where a file was lost by other hands."""
    return upload.offset if upload.is_over else min(upload.offset, file_size(part_name(upload.pk)))


@in_english
def upload_append(*, upload: Upload, offset: int, data: bytes, actor: User, at: datetime) -> Upload:
    """Add a piece and return the upload; the piece is on the disk when this returns.

    Raise WrongOffset where it does not fit on the end, UploadRefused where it goes beyond what was announced.
    An upload that is over stays as it is.
    """
    require(actor, upload.checklist.job.shop, "may_install")
    if len(data) > CHUNK:
        raise UploadRefused(
            f"A piece has at most {CHUNK // 1024} kB, this one has {len(data) / 1024:.0f} kB."
        )
    with transaction.atomic():
        locked = Upload.objects.select_for_update().get(pk=upload.pk)
        locked.checklist = upload.checklist
        if locked.is_over:
            return locked
        have = safe_offset(locked)
        if offset != have:
            raise WrongOffset(have)
        if have + len(data) > locked.size:
            raise UploadRefused(f"{locked.size} bytes were announced; this piece goes beyond them.")
        if data:
            file_write_at(part_name(locked.pk), have, data)
        locked.offset, locked.touched_at = have + len(data), at
        locked.save(update_fields=["offset", "touched_at"])
    return locked


@in_english
def upload_finish(*, upload: Upload, actor: User, at: datetime) -> Upload:
    """Make a photo of a whole upload and return the upload, over; again and from two sides it is one photo.

    Raise PhotoRefused for no sound photo, PhotoNotDrawn where the server is too busy, WrongOffset where the
    bytes are not the announced ones and are to be sent anew.
    """
    require(actor, upload.checklist.job.shop, "may_install")
    if upload.is_over or not upload.is_whole:
        return upload
    try:
        picture = _picture(upload)
    except PhotoRefused as problem:
        return _over(upload, refused=str(problem))
    except PhotoNotDrawn as problem:
        if problem.is_suspect:
            _count_try(upload, "The server cannot open this photo: please take it again.")
        raise
    if picture is None:
        fresh = Upload.objects.get(pk=upload.pk)
        if fresh.is_over:  # somebody else sent the last piece as well, and was quicker
            return fresh
        _count_try(upload, "The photo arrived damaged each time: please take it again.", offset=0)
        raise WrongOffset(0, "The photo arrived damaged; it is to be sent anew.")
    photo = photo_keep(
        checklist=upload.checklist,
        picture=picture,
        actor=actor,
        at=at,
        original_sha256=upload.original_sha256,
    )
    return _over(upload, photo=photo)


def _picture(upload: Upload) -> Picture | None:
    """Return the picture of a whole upload; None where its bytes are not those announced."""
    try:
        with file_whole(part_name(upload.pk)) as source:
            if hashlib.file_digest(source, "sha256").hexdigest() != upload.sent_sha256:  # type: ignore[arg-type]
                return None
            return Picture(upload.sent_sha256, draw(source))
    except FileNotFoundError:
        return None


def _over(upload: Upload, **outcome: Any) -> Upload:
    """Write down what became of an upload, unless it was written before; then its file may go."""
    with transaction.atomic():
        locked = Upload.objects.select_for_update().get(pk=upload.pk)
        if not locked.is_over:
            for name, value in outcome.items():
                setattr(locked, name, value)
            locked.save(update_fields=list(outcome))
    drop_file(upload)
    return locked


def _count_try(upload: Upload, sentence: str, **change: Any) -> None:
    """Count a look in vain; after a few the upload is refused, so that no device sends for ever."""
    Upload.objects.filter(pk=upload.pk, photo=None).update(tries=F("tries") + 1, **change)
    if Upload.objects.filter(pk=upload.pk, photo=None, tries__gte=MOST_TRIES).exists():
        _over(upload, refused=sentence)


def drop_file(upload: Upload) -> None:
    """Remove the file an upload's bytes waited in."""
    file_drop(part_name(upload.pk))
