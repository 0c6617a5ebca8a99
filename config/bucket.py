"""Keeps files in an S3-compatible store that many machines share; its faults read like those of a disk.

Nothing in it is public: files are sent by our own pages, after these asked who may see them.
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator
from datetime import datetime
from typing import IO, Any, Final, NamedTuple

from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from storages.backends.s3 import S3Storage

#: Answers of the protocol for what is not there, and for a store that takes no more.
_GONE: Final = {"404", "NoSuchKey", "NotFound"}
_FULL: Final = {"QuotaExceeded", "InsufficientStorage", "XMinioStorageFull"}
#: A store that is away is told within half a minute. [s]
_CLIENT: Final = Config(
    connect_timeout=5, read_timeout=20, retries={"max_attempts": 2}, signature_version="s3v4"
)


class Stored(NamedTuple):
    """One file of the store."""

    name: str
    size: int
    changed_at: datetime


@contextlib.contextmanager
def like_a_disk(name: str) -> Iterator[None]:
    """Turn a fault of the store into the OSError a disk would raise."""
    try:
        yield
    except ClientError as problem:
        code = str(problem.response.get("Error", {}).get("Code", ""))
        if code in _GONE:
            raise FileNotFoundError(errno.ENOENT, "not in the store of files", name) from problem
        number = errno.ENOSPC if code in _FULL else errno.EHOSTUNREACH
        raise OSError(number, f"the store of files refused ({code})", name) from problem
    except BotoCoreError as problem:
        raise OSError(errno.EHOSTUNREACH, "the store of files cannot be reached", name) from problem


class Bucket(S3Storage):  # type: ignore[misc]  # untyped library
    """One bucket, or one folder of it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(client_config=_CLIENT, default_acl=None, file_overwrite=False, **options)

    def _open(self, name: str, mode: str = "rb") -> Any:
        """Return a file, fetched whole: what is sent to people does not break off in the middle."""
        with like_a_disk(name):
            found = super()._open(name, mode)
            if "w" not in mode:
                _ = found.file
            return found

    def _save(self, name: str, content: Any) -> str:
        with like_a_disk(name):
            return str(super()._save(name, content))

    def delete(self, name: str) -> None:
        """Remove a file; one that is not there is removed already."""
        with like_a_disk(name):
            super().delete(name)

    def exists(self, name: str) -> bool:
        """Return whether there is such a file."""
        with like_a_disk(name):
            return bool(super().exists(name))

    def size(self, name: str) -> int:
        """Return how long a file is. [bytes]"""
        with like_a_disk(name):
            return int(super().size(name))

    def put(self, name: str, content: IO[bytes]) -> None:
        """Store a file under just this name, in place of one that was there: wholly or not at all."""
        with like_a_disk(name):
            self.bucket.Object(self._key(name)).upload_fileobj(content)

    def stored(self, prefix: str) -> Iterator[Stored]:
        """Yield the files whose name begins so, by name."""
        with like_a_disk(prefix):
            for found in self.bucket.objects.filter(Prefix=self._key(prefix)):
                name = found.key.removeprefix(f"{self.location}/" if self.location else "")
                yield Stored(name, int(found.size), found.last_modified)

    def _key(self, name: str) -> str:
        return f"{self.location}/{name}" if self.location else name
