"""Stores a picture: measured, redrawn in a limited process, once a job."""

from __future__ import annotations

import datetime as dt
import hashlib
import tempfile
import uuid
import zoneinfo
from dataclasses import dataclass
from typing import IO, Any, Final

from django.contrib.auth.models import User
from django.core.files.storage import default_storage
from django.db import transaction

from checklists.models import Checklist, Photo
from checklists.photos.drawing import Drawn, PhotoRefused, draw
from checklists.photos.files import file_write
from common.told import in_english
from jobs.models import Shop
from jobs.shop.actor import name_of
from jobs.shop.rights import require

MOST_BYTES: Final = 15 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Picture:
    """A sound picture that is not stored yet, and the hash of the file it was drawn from."""

    sent_sha256: str
    drawn: Drawn


def photo_read(upload: Any) -> Picture:
    """Return the picture of an uploaded file; raise PhotoRefused.

    To be called outside a transaction: it may take a second, and nobody could record anything meanwhile.
    """
    with tempfile.TemporaryFile() as copy:
        digest = _copied(upload, copy)
        return Picture(digest, draw(copy))


def _copied(upload: Any, copy: IO[bytes]) -> str:
    """Copy an upload to the disk and return its hash; the size is looked at first, and counted."""
    refuse_size(upload.size)
    digest, size = hashlib.sha256(), 0
    while chunk := upload.read(2**16):
        size += len(chunk)
        refuse_size(size)
        digest.update(chunk)
        copy.write(chunk)
    copy.flush()
    return digest.hexdigest()


def refuse_size(size: int) -> None:
    """Raise PhotoRefused for more bytes than a photo may have."""
    if size > MOST_BYTES:
        raise PhotoRefused(
            f"The photo must be at most {MOST_BYTES // 2**20} MB, this one is {size / 2**20:.1f} MB."
        )


@in_english
def photo_keep(
    *,
    checklist: Checklist,
    picture: Picture,
    actor: User,
    at: dt.datetime,
    original_sha256: str = "",
) -> Photo:
    """Store a picture of this job and return it; the same file sent twice is one photo.

    The files are on the disk before the lock is taken: nobody who records something waits for that.
    """
    shop, drawn, pk = checklist.job.shop, picture.drawn, uuid.uuid4()
    require(actor, shop, "may_install")
    latitude_deg, longitude_deg = (shop.keeps_photo_position and drawn.position) or (None, None)
    names = [f"photos/{at:%Y/%m}/{pk}{part}.jpg" for part in ("", "-small")]
    for name, data in zip(names, (drawn.picture, drawn.small), strict=True):
        file_write(name, data)
    photo = Photo(
        id=pk,
        checklist=checklist,
        file=names[0],
        small=names[1],
        file_sha256=hashlib.sha256(drawn.picture).hexdigest(),
        small_sha256=hashlib.sha256(drawn.small).hexdigest(),
        sent_sha256=picture.sent_sha256,
        original_sha256=original_sha256 or picture.sent_sha256,
        width_px=drawn.width_px,
        height_px=drawn.height_px,
        taken_by_name=name_of(actor),
        claimed_at=_claimed_at(drawn, shop),
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        received_at=at,
    )
    kept = _only_one(photo)
    if kept.pk != pk:
        for name in names:
            default_storage.delete(name)
    return kept


@in_english
@transaction.atomic
def _only_one(photo: Photo) -> Photo:
    """Store the record of a photo, or return the one this job has of the same file."""
    Checklist.objects.select_for_update().only("pk").get(pk=photo.checklist_id)
    known = Photo.objects.filter(checklist=photo.checklist_id, sent_sha256=photo.sent_sha256).first()
    if known is None:
        photo.save(force_insert=True)
    return known or photo


def _claimed_at(drawn: Drawn, shop: Shop) -> dt.datetime | None:
    """Return when the camera says it was; a camera that names no zone is set to the shop's."""
    try:
        taken = dt.datetime.strptime(drawn.taken, "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007  its zone comes next
    except ValueError:
        return None
    try:
        zone: dt.tzinfo = dt.datetime.strptime(drawn.zone, "%z").tzinfo or dt.UTC
    except ValueError:
        zone = zoneinfo.ZoneInfo(shop.time_zone)
    return taken.replace(tzinfo=zone)
