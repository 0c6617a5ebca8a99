"""Writes and reads the zip archives of this room: whole or not at all, each member held by its hash."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO, Final

from checklists.photos.folder_files import folder_sync

_CHUNK: Final = 1024 * 1024
_FILES: Final = "files/"
#: Folder of the stored files that holds archives owners asked for; backups leave it out.
FOR_OWNERS: Final = "archives"


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a private file to write into; it gets its name when it is whole, and goes when it is not."""
    partial = path.with_suffix(".partial")
    partial.touch(mode=0o600)
    try:
        yield partial
        with partial.open("rb+") as written:
            os.fsync(written.fileno())
        partial.replace(path)
        folder_sync(path.parent)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise


def chunks(source: BinaryIO | Any) -> Iterator[bytes]:
    """Yield what an open file holds, piece by piece."""
    while part := source.read(_CHUNK):
        yield part


def write_member(archive: Any, name: str, parts: Iterable[bytes], hashes: dict[str, str]) -> int:
    """Write a member of an archive and note its hash; return of how many parts it was."""
    digest, count = hashlib.sha256(), 0
    with archive.open(name, "w", force_zip64=True) as member:
        for part in parts:
            member.write(part)
            digest.update(part)
            count += 1
    hashes[name] = digest.hexdigest()
    return count


def checked_manifest(archive: Any, name: str, *, form: int, refused: type[ValueError]) -> dict[str, Any]:
    """Return an archive's list of contents after every member was compared with its hash.

    Raise ``refused`` for another form and for a member that differs; KeyError for one that is not there.
    """
    manifest: dict[str, Any] = json.loads(archive.read(name))
    if manifest["form"] != form:
        raise refused(f"This archive has form {manifest['form']}; this version reads form {form}.")
    for member, expected in manifest["sha256"].items():
        if _hash_of(archive, member) != expected:
            raise refused(f"{member} in this archive is damaged.")
    return manifest


def _hash_of(archive: Any, name: str) -> str:
    digest = hashlib.sha256()
    with archive.open(name) as member:
        for part in chunks(member):
            digest.update(part)
    return digest.hexdigest()


def stored_files(
    manifest: dict[str, Any], *, refused: type[ValueError]
) -> Iterator[tuple[str, PurePosixPath]]:
    """Yield each member that is a stored file with its name; raise ``refused`` for one outside its folder."""
    for member in manifest["sha256"]:
        if not member.startswith(_FILES):
            continue
        name = PurePosixPath(member.removeprefix(_FILES))
        if name.is_absolute() or ".." in name.parts:
            raise refused(f"{member}: a file of this archive would be written outside of its folder.")
        yield member, name
