"""Looks at every stored file: is it there, and is it what was written."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from django.core.files.storage import default_storage

from checklists.models import JobSheet, Photo
from jobs.models import RoofPhoto


def stored_files() -> Iterator[tuple[str, str, str]]:
    """Yield every file a record names: what it is, its name, its hash where the record holds one."""
    for sheet in JobSheet.objects.exclude(file="").select_related("checklist__job").iterator(500):
        yield f"job {sheet.checklist.job.number}, {sheet}", str(sheet.file.name), sheet.file_sha256
    for pk, number, *names in Photo.objects.values_list("pk", "checklist__job__number", "file", "small"):
        yield from ((f"job {number}, photo {pk}", name, "") for name in names)
    for number, name in RoofPhoto.objects.values_list("survey__job__number", "file"):
        yield f"job {number}, photo of the roof", name, ""


def files_wrong() -> Iterator[str]:
    """Yield a sentence for every file that is gone, empty, or not what was written."""
    for what, name, expected in stored_files():
        try:
            with default_storage.open(name) as source:
                digest = hashlib.file_digest(source, "sha256").hexdigest()
        except FileNotFoundError:
            yield f"{what}: {name} is gone"
            continue
        except OSError as problem:
            yield f"{what}: {name} cannot be read ({problem.strerror})"
            continue
        if digest == hashlib.sha256(b"").hexdigest():
            yield f"{what}: {name} is empty"
        elif expected and digest != expected:
            yield f"{what}: {name} is not what was printed"
