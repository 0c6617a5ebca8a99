"""Looks at every stored file: is it there, and is it what was written. Notes hashes that were never noted."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from django.core.files.storage import default_storage
from django.db.models import Model

from checklists.models import JobSheet, Photo
from jobs.models import RoofPhoto

_EMPTY: Final = hashlib.sha256(b"").hexdigest()


class StoredFile(NamedTuple):
    """A file a record names: the record, what people call it, its name, the column and value of its hash."""

    row: Model
    what: str
    name: str
    column: str
    expected: str


def stored_files() -> Iterator[StoredFile]:
    """Yield every file a record names."""
    for sheet in JobSheet.objects.exclude(file="").select_related("checklist__job").iterator(500):
        what = f"job {sheet.checklist.job.number}, {sheet}"
        yield StoredFile(sheet, what, str(sheet.file.name), "file_sha256", sheet.file_sha256)
    for photo in Photo.objects.select_related("checklist__job").iterator(500):
        what = f"job {photo.checklist.job.number}, photo {photo.pk}"
        yield StoredFile(photo, what, str(photo.file.name), "file_sha256", photo.file_sha256)
        yield StoredFile(photo, what, str(photo.small.name), "small_sha256", photo.small_sha256)
    for roof in RoofPhoto.objects.select_related("survey__job").iterator(500):
        what = f"job {roof.survey.job.number}, photo of the roof"
        yield StoredFile(roof, what, str(roof.file.name), "file_sha256", roof.file_sha256)


def files_wrong() -> Iterator[str]:
    """Yield a sentence for every file that is gone, empty, or not what was written."""
    for one in stored_files():
        try:
            digest = _hash_of(one.name)
        except FileNotFoundError:
            yield f"{one.what}: {one.name} is gone"
            continue
        except OSError as problem:
            yield f"{one.what}: {one.name} cannot be read ({problem.strerror})"
            continue
        if digest == _EMPTY:
            yield f"{one.what}: {one.name} is empty"
        elif one.expected and digest != one.expected:
            yield f"{one.what}: {one.name} is not what was written"


def hashes_note() -> int:
    """Note the hash of each file stored before hashes were noted; return how many. What is noted stays."""
    count = 0
    for one in stored_files():
        if one.expected:
            continue
        try:
            digest = _hash_of(one.name)
        except OSError:
            continue  # check_files names it
        if digest != _EMPTY:
            rows: Any = type(one.row)._base_manager.filter(pk=one.row.pk, **{one.column: ""})
            count += rows.update(**{one.column: digest})
    return count


def _hash_of(name: str) -> str:
    with default_storage.open(name) as source:
        return hashlib.file_digest(source, "sha256").hexdigest()
