"""Files in a bucket many machines share. What comes by pieces waits as one object a piece."""

from __future__ import annotations

import base64
import contextlib
import io
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import IO, Any, Final

from django.core.files.storage import default_storage

#: Digits of a piece's first byte in its name, so that names sort as the bytes lie.
_DIGITS: Final = 12


def _bucket() -> Any:
    """Return the store itself; it can list and replace, which Django's interface cannot."""
    return default_storage


def write(name: str, parts: Iterable[bytes]) -> None:
    """Write a file whole, in place of one of this name."""
    with tempfile.TemporaryFile() as whole:
        whole.writelines(parts)
        whole.seek(0)
        _bucket().put(name, whole)


def write_at(name: str, offset: int, data: bytes) -> None:
    """Keep a piece that begins at ``offset``; pieces from there on are dropped first."""
    for first, stored, _ in _pieces(name):
        if first >= offset:
            default_storage.delete(stored)
    _bucket().put(f"{name}/{offset:0{_DIGITS}d}", io.BytesIO(data))


def size(name: str) -> int:
    """Return how long the pieces are that lie end to end from the first byte on. [bytes]"""
    return sum(length for _, _, length in _end_to_end(name))


@contextlib.contextmanager
def whole(name: str) -> Iterator[IO[bytes]]:
    """Yield what came by pieces as one file on disk; raise FileNotFoundError where nothing came."""
    with tempfile.TemporaryFile() as joined:
        for _, stored, _ in _end_to_end(name):
            with default_storage.open(stored) as piece:
                shutil.copyfileobj(piece, joined)
        if not joined.tell():
            raise FileNotFoundError(name)
        joined.seek(0)
        yield joined


def drop(name: str) -> None:
    """Remove a file, and what came of it by pieces."""
    for _, stored, _ in _pieces(name):
        default_storage.delete(stored)
    default_storage.delete(name)


def names(folder: str = "", *, older_than: datetime | None = None) -> Iterator[str]:
    """Yield the names of stored files, a file in pieces once for each piece."""
    for found in _bucket().stored(f"{folder}/" if folder else ""):
        if older_than is None or found.changed_at < older_than:
            yield found.name


def uri(name: str) -> str:
    """Return a picture as an address that holds it: papers read nothing from a network."""
    try:
        with default_storage.open(name) as source:
            return f"data:image/jpeg;base64,{base64.b64encode(source.read()).decode()}"
    except FileNotFoundError:
        return ""


def _pieces(name: str) -> list[tuple[int, str, int]]:
    """Return first byte, stored name and length of each piece, in order. [bytes]"""
    found = sorted(_bucket().stored(f"{name}/"))
    return [(int(one.name.rpartition("/")[2]), one.name, one.size) for one in found]


def _end_to_end(name: str) -> Iterator[tuple[int, str, int]]:
    """Yield the pieces that lie end to end from the first byte on."""
    have = 0
    for first, stored, length in _pieces(name):
        if first != have:
            return
        yield first, stored, length
        have += length
