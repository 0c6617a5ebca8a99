"""Writes a file so that neither a kill nor a power cut takes back what was promised."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from django.core.files.storage import default_storage


def file_write(name: str, data: bytes) -> None:
    """Write a file of the media folder whole; it is on the disk when this returns, or not there at all."""
    file_write_whole(Path(default_storage.path(name)), [data])


def file_write_whole(path: Path, parts: Iterable[bytes]) -> None:
    """Write a file from its parts; it is on the disk when this returns, or not there at all."""
    folder_make(path.parent)
    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    with open(unfinished, "wb") as out:
        out.writelines(parts)
        out.flush()
        os.fsync(out.fileno())
    unfinished.replace(path)
    folder_sync(path.parent)


def file_write_at(name: str, offset: int, data: bytes) -> None:
    """Write from ``offset`` on what a file of the media folder holds; what lay beyond is dropped."""
    path = Path(default_storage.path(name))
    is_new = not path.exists()
    if is_new:
        folder_make(path.parent)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
    with open(handle, "wb", buffering=0) as out:
        out.truncate(offset)
        out.seek(offset)
        rest = memoryview(data)
        while rest:
            rest = rest[out.write(rest) :]
        os.fsync(handle)
    if is_new:
        folder_sync(path.parent)


def file_size(name: str) -> int:
    """Return how long a file of the media folder is; one that is not there has no bytes. [bytes]"""
    try:
        return Path(default_storage.path(name)).stat().st_size
    except FileNotFoundError:
        return 0


def folder_make(folder: Path) -> None:
    """Make a folder and those above it, each known to the disk."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    for each in reversed(missing):
        each.mkdir(exist_ok=True)
        folder_sync(each.parent)


def folder_sync(folder: Path) -> None:
    """Bring the names in a folder to the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
