"""Deletes abandoned uploads and files without a record from the folders of photos and sheets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from django.db import transaction

from checklists.models import JobSheet, Photo, Upload
from checklists.photos.files import file_drop, file_names
from checklists.photos.uploads import drop_file, part_name
from jobs.models import RoofPhoto
from jobs.models.scope import ShopQuerySet
from jobs.shop.refusals import Refusal

#: A tablet may lie in a drawer so long and still go on where it stopped; later it begins anew.
UPLOAD_KEPT: Final = timedelta(days=30)
#: A file is written a moment before its record: one younger than this is left alone.
FILE_KEPT: Final = timedelta(days=1)
#: More files without a record than with one, and more than this: it is likely another shop's database.
_MANY: Final = 20


class TidyRefused(Refusal):
    """Nothing was removed; says why."""


@dataclass(frozen=True, slots=True)
class Tidied:
    """How much was removed."""

    unfinished: int
    over: int
    files: int


def photos_tidy(*, at: datetime, even_if_many: bool = False) -> Tidied:
    """Remove old unfinished uploads, records of uploads long over, and files of no record.

    A stored photo is never touched. Raise TidyRefused where most files belong to no record.
    """
    known = {name for row in Photo.objects.values_list("file", "small") for name in row}
    known |= set(RoofPhoto.objects.values_list("file", flat=True))
    known |= set(JobSheet.objects.exclude(file="").values_list("file", flat=True))
    known |= {part_name(pk) for pk in _unfinished().values_list("pk", flat=True)}
    stray = [name for name in _files(at - FILE_KEPT) if _whole_name(name) not in known]
    if len(stray) > max(_MANY, len(known)) and not even_if_many:
        raise TidyRefused(
            f"{len(stray)} files belong to no record and {len(known)} do: is this the right database?"
            " Nothing was removed; --even-if-many removes them."
        )
    for name in stray:
        file_drop(name)
    unfinished = [pk for pk in _old(_unfinished(), at).values_list("pk", flat=True) if _drop(pk, at)]
    over, _ = _old(Upload.objects.exclude(photo=None, refused=""), at).delete()
    return Tidied(len(unfinished), over, len(stray))


def _unfinished() -> ShopQuerySet[Upload]:
    return Upload.objects.filter(photo=None, refused="")


def _old(rows: ShopQuerySet[Upload], at: datetime) -> ShopQuerySet[Upload]:
    return rows.filter(touched_at__lt=at - UPLOAD_KEPT)


def _drop(pk: UUID, at: datetime) -> bool:
    """Remove an unfinished upload unless its tablet came back this moment; return whether it went."""
    with transaction.atomic():
        row = _old(_unfinished(), at).filter(pk=pk).select_for_update().first()
        if row is None:
            return False
        drop_file(row)
        row.delete()
    return True


def _files(older_than: datetime) -> Iterator[str]:
    """Yield the names of the files in our folders of pictures and papers that are older than a moment."""
    for folder in ("photos", "roofs", "uploads", "sheets"):
        yield from file_names(folder, older_than=older_than)


def _whole_name(name: str) -> str:
    """Return the name of the upload a piece belongs to; other names are their own."""
    folder, _, rest = name.partition("/")
    return f"{folder}/{rest.partition('/')[0]}" if folder == "uploads" else name
