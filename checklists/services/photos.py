"""Knows how a picture comes in: measured before it is decoded, drawn anew without its metadata."""

from __future__ import annotations

import contextlib
import hashlib
import io
import threading
import uuid
import warnings
from collections.abc import Iterator
from datetime import datetime
from typing import IO, Any, Final

from django.core.files.base import ContentFile
from django.db import transaction
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from checklists.models import Checklist, Photo
from jobs.services.log import name_of
from jobs.services.refusals import Refusal
from jobs.services.rights import require

MOST_BYTES: Final = 15 * 1024 * 1024
MOST_PIXELS: Final = 40_000_000
#: Longest side kept: enough to read a fuse's print, small enough to send. [px]
LONGEST_SIDE_PX: Final = 2400
QUALITY: Final = 85
FORMATS: Final = ("JPEG", "PNG", "WEBP")
_ONE_AT_A_TIME: Final = threading.Lock()  # a photo is decoded in memory: never several at once


class PhotoRefused(Refusal):
    """The file is not kept; says why."""


@transaction.atomic
def photo_store(*, checklist: Checklist, upload: Any, actor: Any, at: datetime, caption: str = "") -> Photo:
    """Store a picture of this job and return it; the same file sent twice is one picture."""
    require(actor, checklist.job.shop, "may_install")
    data = _read(upload)
    digest = hashlib.sha256(data).hexdigest()
    known = Photo.objects.filter(checklist=checklist, original_sha256=digest).first()
    if known is not None:
        return known
    image = _decoded(data)
    name = uuid.uuid4()
    photo = Photo(
        id=name,
        checklist=checklist,
        original_sha256=digest,
        width_px=image.width,
        height_px=image.height,
        caption=caption[:160],
        taken_by_name=name_of(actor),
        received_at=at,
    )
    photo.file.save(f"{name}.jpg", ContentFile(_encoded(image)), save=False)
    photo.save()
    return photo


def _read(upload: Any) -> bytes:
    if upload.size > MOST_BYTES:
        raise PhotoRefused(
            f"The photo must be at most {MOST_BYTES // 2**20} MB, this one is {upload.size / 2**20:.1f} MB."
        )
    data = upload.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise PhotoRefused(f"The photo must be at most {MOST_BYTES // 2**20} MB.")
    return bytes(data)


def _decoded(data: bytes) -> Image.Image:
    """Return the picture upright; its size is looked at before a single pixel is decoded."""
    try:
        with warnings.catch_warnings(), _strictly():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            opened = Image.open(_stream(data), formats=FORMATS)
            if opened.width * opened.height > MOST_PIXELS:
                raise PhotoRefused(
                    f"The photo must have at most {MOST_PIXELS // 1_000_000} megapixels,"
                    f" this one is {opened.width} × {opened.height}."
                )
            opened.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            upright = ImageOps.exif_transpose(opened)
            upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            return _on_white(upright)
    except PhotoRefused:
        raise
    except UnidentifiedImageError:
        raise PhotoRefused("This file is no photo we can read: JPEG, PNG or WebP.") from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoRefused(f"The photo must have at most {MOST_PIXELS // 1_000_000} megapixels.") from None
    except (OSError, ValueError, SyntaxError, EOFError):
        raise PhotoRefused("This photo is damaged: please take it again.") from None


@contextlib.contextmanager
def _strictly() -> Iterator[None]:
    """Refuse pictures that are cut off, although the paper engine tells Pillow to fill them with grey."""
    with _ONE_AT_A_TIME:
        before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _on_white(image: Image.Image) -> Image.Image:
    """Return a plain picture: nothing see-through, no colour profile, no text inside the file."""
    with_alpha = image.convert("RGBA")
    plain = Image.new("RGB", image.size, "white")
    plain.paste(with_alpha, mask=with_alpha.getchannel("A"))
    return plain


def _encoded(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _stream(data: bytes) -> IO[bytes]:
    return io.BytesIO(data)
