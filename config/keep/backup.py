"""Writes a backup: rows, files, settings and secret in one zip archive, encrypted with a passphrase."""

from __future__ import annotations

import contextlib
import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final

import pyzipper  # type: ignore[import-untyped]
from django.conf import settings
from django.core.files.storage import default_storage

from checklists.photos.files import file_names
from config.keep.archive import FOR_OWNERS, chunks, whole_file, write_member
from config.keep.rows import frozen_rows, lines_of, migrations_of, registry_of, stored_models
from config.version import VERSION

MANIFEST: Final = "manifest.json"
#: What the archive's form is called; another number is another form.
FORM: Final = 1


def backup_write(folder: Path, *, at: datetime, passphrase: str = "", kind: str = "coachlight") -> Path:
    """Write a backup into a folder and return its file; it gets its name only when it is whole.

    Its name begins with its ``kind``: those of another kind are not counted and not dropped with the daily
    ones. Raise OSError where it cannot be written; nothing half-written stays then.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{kind}-{at:%Y%m%d-%H%M%S}.zip"
    with whole_file(path) as partial, _archive(partial, passphrase) as archive:
        _fill(archive, at)
    return path


def _archive(path: Path, passphrase: str) -> pyzipper.AESZipFile:
    encryption = pyzipper.WZ_AES if passphrase else None
    archive = pyzipper.AESZipFile(
        path, "w", compression=pyzipper.ZIP_DEFLATED, encryption=encryption, allowZip64=True
    )
    if passphrase:
        archive.setpassword(passphrase.encode())
    return archive


def _fill(archive: pyzipper.AESZipFile, at: datetime) -> None:
    """Write rows first: a file a row names was stored before the row, so it is there."""
    hashes: dict[str, str] = {}
    counts: dict[str, int] = {}
    with frozen_rows() as using:
        migrations = migrations_of(using)
        for model in stored_models(registry_of(migrations)):
            label = model._meta.label_lower
            lines = (text.encode() for text in lines_of(model, using))
            counts[label] = write_member(archive, f"rows/{label}.jsonl", lines, hashes)
    for name in file_names():
        if name.startswith(f"{FOR_OWNERS}/"):
            continue
        with (
            contextlib.suppress(FileNotFoundError),
            default_storage.open(name) as source,
        ):  # an upload just over
            write_member(archive, f"files/{name}", chunks(source), hashes)
    for path in (settings.SETTINGS_FILE, settings.VAR_DIR / "secret_key"):
        if path.exists():
            _write_file(archive, f"keys/{path.name}", path, hashes)
    told: dict[str, Any] = {"form": FORM, "version": VERSION, "at": at.isoformat(), "migrations": migrations}
    archive.writestr(MANIFEST, json.dumps(told | {"rows": counts, "sha256": hashes}, indent=1))


def _write_file(archive: pyzipper.AESZipFile, name: str, path: Path, hashes: dict[str, str]) -> None:
    with path.open("rb") as source:
        write_member(archive, name, chunks(source), hashes)
