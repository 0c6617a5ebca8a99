"""Files in a folder of this machine: neither a kill nor a power cut takes back what was promised."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO
from urllib.parse import quote

from django.core.files.storage import default_storage


def write(name: str, parts: Iterable[bytes]) -> None:
    """Write a file of the media folder whole; it is on the disk when this returns, or not there at all."""
    path = Path(default_storage.path(name))
    folder_make(path.parent)
    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    with open(unfinished, "wb") as out:
        out.writelines(parts)
        out.flush()
        os.fsync(out.fileno())
    unfinished.replace(path)
    folder_sync(path.parent)


def write_at(name: str, offset: int, data: bytes) -> None:
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


def size(name: str) -> int:
    """Return how long a file of the media folder is; one that is not there has no bytes. [bytes]"""
    try:
        return Path(default_storage.path(name)).stat().st_size
    except FileNotFoundError:
        return 0


def whole(name: str) -> IO[bytes]:
    """Return what came by pieces, open; raise FileNotFoundError where nothing came."""
    return open(default_storage.path(name), "rb")


def drop(name: str) -> None:
    """Remove a file."""
    Path(default_storage.path(name)).unlink(missing_ok=True)


def names(folder: str = "", *, older_than: datetime | None = None) -> Iterator[str]:
    """Yield the names of the files in a folder, links left out, and half-written ones unless they are old."""
    root = Path(default_storage.path(""))
    for path in sorted((root / folder).rglob("*")):
        is_half_written = path.name.startswith(".") and older_than is None
        if path.is_symlink() or not path.is_file() or is_half_written:
            continue
        changed_at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        if older_than is None or changed_at < older_than:
            yield path.relative_to(root).as_posix()


def uri(name: str) -> str:
    """Return the address of a picture on disk; none where its file was lost."""
    path = default_storage.path(name)
    return f"file://{quote(path)}" if Path(path).is_file() else ""


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
