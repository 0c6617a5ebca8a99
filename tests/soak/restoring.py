"""Looks at an installation, and brings a backup back into it under kills; run by tests with its environment.

``print`` prints a hash of every table's rows and of every file. ``kill ARCHIVE COUNT`` starts to bring the
archive back COUNT times, kills each try a little later than the one before, and prints what was found after
each. ``--broken`` leaves the transaction out.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import IO, Any
from unittest import mock

import django


def rows() -> dict[str, str]:
    """Return how many rows each table has and the hash of all of them, as Python values, by key."""
    from django.db import connections

    from config.keep.rows import stored_models

    found = {}
    for model in stored_models():
        told = [_told(row) for row in model._base_manager.order_by("pk").values()]
        found[model._meta.label] = f"{len(told)} {hashlib.sha256('\n'.join(told).encode()).hexdigest()}"
    connections.close_all()  # what is forked next begins without one
    return found


def _told(value: Any) -> str:
    """Return a value in words; PostgreSQL keeps the names of a JSON object in an order of its own."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{name!r}: {_told(value[name])}' for name in sorted(value))}}}"
    return f"[{', '.join(map(_told, value))}]" if isinstance(value, list) else repr(value)


def files() -> dict[str, str]:
    """Return the hash of every file."""
    from django.conf import settings

    root = Path(settings.MEDIA_ROOT)
    found = (path for path in root.rglob("*") if path.is_file() and not path.name.startswith("."))
    return {str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest() for path in found}


def killed(archive: Path, count: int, is_broken: bool) -> list[str]:
    """Return what was found after each kill: ``old``, ``new``, or what differs from both.

    The first kill hits while files are written, the others while rows are.
    """
    old, old_files, seen = rows(), files(), []
    begun = time.monotonic()
    pid, at_rows = _started(archive, dry=True)
    at_rows.read(1)
    rows_at = time.monotonic()
    os.waitpid(pid, 0)
    files_s, rows_s = rows_at - begun, time.monotonic() - rows_at
    for turn in range(count):
        pid, at_rows = _started(archive, is_broken=is_broken)
        if turn:
            at_rows.read(1)
        time.sleep(rows_s * (turn - 0.5) / (count - 1) if turn else files_s * 0.9)
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        seen.append((json.dumps(rows()), old_files.items() <= files().items()))
    os.waitpid(_started(archive)[0], 0)
    words = {json.dumps(rows()): "new", json.dumps(old): "old"}
    return [
        words.get(now, "mixed") if is_there else "files of the old state are gone" for now, is_there in seen
    ]


def _started(archive: Path, *, is_broken: bool = False, dry: bool = False) -> tuple[int, IO[bytes]]:
    """Fork a process that brings the archive back; return it, and where it says that it is at the rows.

    A dry one stops before its changes are kept.
    """
    ours, its = os.pipe()
    pid = os.fork()
    if pid:
        os.close(its)
        return pid, open(ours, "rb")
    from config.keep import restore

    real = restore._rows

    def write_rows(*args: Any) -> dict[str, int]:
        os.write(its, b"r")
        return real(*args)

    try:
        with contextlib.ExitStack() as stack:
            stack.enter_context(mock.patch.object(restore, "_rows", write_rows))
            if is_broken:
                plain = SimpleNamespace(atomic=_no_transaction)
                stack.enter_context(mock.patch.object(restore, "transaction", plain))
            if dry:
                stack.enter_context(
                    mock.patch.object(restore, "set_sequences", side_effect=ZeroDivisionError)
                )
                stack.enter_context(contextlib.suppress(ZeroDivisionError))
            restore.backup_restore(archive, replace=True)
    finally:
        os._exit(0)


@contextlib.contextmanager
def _no_transaction() -> Iterator[None]:
    from django.db import connection

    with connection.constraint_checks_disabled():
        yield


if __name__ == "__main__":
    from config.sqlite import use_newest

    use_newest()
    django.setup()
    if sys.argv[1] == "print":
        print(json.dumps({"rows": rows(), "files": files()}))
    else:
        print(json.dumps(killed(Path(sys.argv[2]), int(sys.argv[3]), "--broken" in sys.argv)))
