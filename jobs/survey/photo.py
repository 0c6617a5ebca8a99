"""How a photo to trace from comes under a roof plan, is placed, and goes again."""

from __future__ import annotations

import hashlib
import math
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.module_loading import import_string

from common.told import in_english
from jobs.models import RoofPhoto, Survey
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal, number_within
from jobs.shop.rights import require
from jobs.survey.read import is_closed

#: Name as sent: column, word, least, most, unit.
PLACE: Final = {
    "x_mm": ("x_m", "Middle of the photo, from the rear", -20_000.0, 40_000.0, "mm"),
    "y_mm": ("y_m", "Middle of the photo, from the right", -20_000.0, 40_000.0, "mm"),
    "turn_deg": ("turn_deg", "Turned", -360.0, 360.0, "°"),
    "opacity": ("opacity_fraction", "Strength", 0.0, 1.0, ""),
}
#: Two points nearer than this on the picture give no scale. [px]
LEAST_APART_PX: Final = 20.0
#: Distance between the two points. [mm]
DISTANCE_LIMITS: Final = (50.0, 30_000.0)


class PhotoPlaceRefused(Refusal):
    """The photo cannot lie so; names field, limit and unit."""


class PhotoMovedMeanwhile(PhotoPlaceRefused):
    """Somebody else placed the photo after this page was opened."""


def picture_of(upload: Any) -> Any:
    """Return an uploaded picture drawn anew by the reader the site names; a Refusal says why it cannot be.

    To be called outside a transaction: it may take a second.
    """
    return import_string(settings.PICTURE_READER)(upload)


@in_english
@transaction.atomic
def roof_photo_add(*, survey: Survey, picture: Any, actor: User, at: datetime) -> RoofPhoto:
    """Lay a read picture under the survey's plan, in place of the one before."""
    locked = _open_survey(survey, actor)
    _drop(locked)
    drawn, pk = picture.drawn, uuid.uuid4()
    photo = RoofPhoto(id=pk, survey=locked, width_px=drawn.width_px, height_px=drawn.height_px)
    photo.x_m, photo.y_m = (locked.roof_length_m or 0.0) / 2, (locked.roof_width_m or 0.0) / 2
    photo.added_at, photo.added_by_name = at, name_of(actor)
    photo.file_sha256 = hashlib.sha256(drawn.picture).hexdigest()
    photo.file.save(f"{pk}.jpg", ContentFile(drawn.picture), save=False)
    photo.save()
    _log(locked, actor, "roof photo added", at)
    return photo


@in_english
@transaction.atomic
def roof_photo_remove(*, survey: Survey, actor: User, at: datetime) -> None:
    """Take the photo away; nothing happens where there is none."""
    locked = _open_survey(survey, actor)
    if _drop(locked):
        _log(locked, actor, "roof photo taken away", at)


@in_english
@transaction.atomic
def roof_photo_place(*, survey: Survey, data: Mapping[str, Any], seen: Any, actor: User) -> RoofPhoto:
    """Store how the photo lies; raise PhotoMovedMeanwhile when ``seen`` is not its newest state."""
    locked = _open_survey(survey, actor)
    photo = RoofPhoto.objects.select_for_update().filter(survey=locked).first()
    if photo is None:
        raise PhotoPlaceRefused("The photo was taken away meanwhile.")
    if seen != photo.edit_count:
        raise PhotoMovedMeanwhile("Somebody else placed the photo meanwhile: theirs is shown now.")
    for word, (column, name, low, high, unit) in PLACE.items():
        scale = 1000 if unit == "mm" else 1
        setattr(photo, column, round(_within(data.get(word), name, low, high, unit) / scale, 5))
    photo.a_px, photo.b_px = _point(data.get("a"), photo), _point(data.get("b"), photo)
    photo.distance_m = _distance_m(data.get("distance_mm"), photo)
    photo.edit_count += 1
    photo.save()
    return photo


def _open_survey(survey: Survey, actor: User) -> Survey:
    locked = Survey.objects.select_for_update(of=("self",)).select_related("job__shop").get(pk=survey.pk)
    require(actor, locked.job.shop, "may_design")
    if is_closed(locked):
        raise PhotoPlaceRefused(
            f"This job is “{locked.job.get_state_display()}”: its survey stays as it was."
        )
    return locked


def _drop(survey: Survey) -> bool:
    """Delete the photo of a survey, its file when all is stored; return whether there was one."""
    old = RoofPhoto.objects.filter(survey=survey).first()
    if old is None:
        return False
    if old.file.name:
        transaction.on_commit(partial(old.file.storage.delete, old.file.name))
    old.delete()
    return True


def _log(survey: Survey, actor: Actor, verb: str, at: datetime) -> None:
    log(shop=survey.job.shop, job=survey.job, actor=actor, verb=verb, detail="", at=at)


def _within(value: Any, name: str, low: float, high: float, unit: str) -> float:
    return number_within(value, name, low, high, unit, refused=PhotoPlaceRefused)


def _point(value: Any, photo: RoofPhoto) -> list[float]:
    """Return a point of the picture [px]; empty where none was chosen."""
    if value is None or value == []:
        return []
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        raise PhotoPlaceRefused("Known points: must lie on the photo.")
    sides = (("across", photo.width_px), ("down", photo.height_px))
    return [
        round(_within(part, f"Known point, {word}", 0.0, side, "px"), 2)
        for part, (word, side) in zip(value, sides, strict=True)
    ]


def _distance_m(value: Any, photo: RoofPhoto) -> float | None:
    """Return the typed distance [m]; without two points well apart it gives no scale."""
    if value is None:
        return None
    distance = _within(value, "Between the two points", *DISTANCE_LIMITS, "mm")
    if not photo.a_px or not photo.b_px or math.dist(photo.a_px, photo.b_px) < LEAST_APART_PX:
        raise PhotoPlaceRefused("Two known points: choose two that lie well apart on the photo.")
    return round(distance / 1000, 5)
