"""The bytes of pictures and papers, wherever they are kept: a folder of this machine or a bucket."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager
from datetime import datetime
from types import ModuleType
from typing import IO

from django.core.files.storage import default_storage

from checklists.photos import bucket_files, folder_files


def is_folder() -> bool:
    """Return whether files lie in a folder of this machine."""
    try:
        default_storage.path("")
    except NotImplementedError:
        return False
    return True


def _place() -> ModuleType:
    return folder_files if is_folder() else bucket_files


def file_write(name: str, data: bytes | Iterable[bytes]) -> None:
    """Write a file whole; it is safe when this returns, or not there at all."""
    _place().write(name, [data] if isinstance(data, bytes) else data)


def file_write_at(name: str, offset: int, data: bytes) -> None:
    """Write from ``offset`` on what is there of a file; what lay beyond is dropped."""
    _place().write_at(name, offset, data)


def file_size(name: str) -> int:
    """Return how much of a file that comes by pieces is safe; one that is not there has no bytes. [bytes]"""
    size: int = _place().size(name)
    return size


def file_whole(name: str) -> AbstractContextManager[IO[bytes]]:
    """Return what came by pieces, open on disk; raise FileNotFoundError where nothing came."""
    opened: AbstractContextManager[IO[bytes]] = _place().whole(name)
    return opened


def file_drop(name: str) -> None:
    """Remove a file; one that is not there is removed already."""
    _place().drop(name)


def file_names(folder: str = "", *, older_than: datetime | None = None) -> Iterator[str]:
    """Yield the names of stored files, all of them or those in a folder."""
    yield from _place().names(folder, older_than=older_than)


def file_uri(name: str) -> str:
    """Return the address under which a paper reads a picture; none where its file was lost."""
    uri: str = _place().uri(name)
    return uri
