"""Brings a backup back: wholly, or not at all."""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pyzipper  # type: ignore[import-untyped]
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from checklists.photos.files import file_write
from config.keep.archive import checked_manifest, chunks, stored_files
from config.keep.backup import FORM, MANIFEST
from config.keep.rows import LEFT_OUT, migrations_of, models_at, set_sequences, write_rows
from jobs.models import Shop


class RestoreRefused(ValueError):
    """The backup cannot be brought back here; nothing was changed."""


def backup_restore(path: Path, *, passphrase: str = "", replace: bool = False) -> dict[str, int]:
    """Replace the installation's rows and files by those of a backup; return how many rows by model.

    Files come first: their names are unique, so those there are not touched. Rows change in one transaction:
    killed at any moment, the installation is as before or as in the backup. Raise RestoreRefused for an
    archive that is damaged, encrypted otherwise or of a later version, and where shops would be overwritten
    without ``replace``.
    """
    with _opened(path, passphrase) as archive:
        manifest = _checked(archive)
        if Shop.objects.exists() and not replace:
            raise RestoreRefused(
                "This installation holds a shop: say --replace to overwrite everything in it."
            )
        registry = _levelled(manifest["migrations"])
        _files(archive, manifest)
        counts = _rows(archive, manifest, registry)
    call_command("migrate", interactive=False, verbosity=0)
    return counts


def _opened(path: Path, passphrase: str) -> pyzipper.AESZipFile:
    try:
        archive = pyzipper.AESZipFile(path)
    except (OSError, pyzipper.BadZipFile) as problem:
        raise RestoreRefused(f"{path} is no backup, or not a whole one ({problem}).") from None
    archive.setpassword(passphrase.encode() or None)
    return archive


def _checked(archive: pyzipper.AESZipFile) -> dict[str, Any]:
    """Return the manifest after every member was compared with its hash."""
    try:
        return checked_manifest(archive, MANIFEST, form=FORM, refused=RestoreRefused)
    except RuntimeError:
        raise RestoreRefused("The passphrase is not the one this backup was made with.") from None
    except (KeyError, ValueError, zlib.error, pyzipper.BadZipFile) as problem:
        if isinstance(problem, RestoreRefused):
            raise
        raise RestoreRefused(f"This backup is damaged ({problem}).") from None


def _levelled(migrations: list[str]) -> Any:
    """Return the models of the backup's release; an empty database is brought to that release first."""
    here = set(migrations_of("default"))
    if set(migrations) == here:
        return apps
    try:
        registry = models_at(migrations)
    except ValueError as problem:
        raise RestoreRefused(f"This backup was {problem}. Install that version first.") from None
    if Shop.objects.exists():
        raise RestoreRefused(
            "This backup was made by another release. Bring it back into an empty database: it is upgraded"
            " there."
        )
    for app in sorted({name.split(".", 1)[0] for name in here}):
        mine = [name.split(".", 1)[1] for name in migrations if name.startswith(f"{app}.")]
        call_command("migrate", app, max(mine) if mine else "zero", interactive=False, verbosity=0)
    return registry


def _files(archive: pyzipper.AESZipFile, manifest: dict[str, Any]) -> None:
    """Put files beside those there are, each whole before it has its name."""
    for member, name in stored_files(manifest, refused=RestoreRefused):
        with archive.open(member) as source:
            file_write(str(name), chunks(source))


def _rows(archive: pyzipper.AESZipFile, manifest: dict[str, Any], registry: Any) -> dict[str, int]:
    try:
        with transaction.atomic():
            kept = {label: count for label, count in manifest["rows"].items() if label not in LEFT_OUT}
            lines: dict[str, Iterable[str]] = {label: _lines(archive, label) for label in kept}
            counts = write_rows(registry, lines)
            if counts != kept:
                raise RestoreRefused("This backup lacks rows its list of contents tells of.")
            set_sequences(registry)
            connection.check_constraints()
    except (ValueError, IntegrityError) as problem:
        raise RestoreRefused(f"Rows of this backup do not fit together ({problem}).") from None
    return counts


def _lines(archive: pyzipper.AESZipFile, label: str) -> Iterator[str]:
    with archive.open(f"rows/{label}.jsonl") as member:
        yield from io.TextIOWrapper(member, encoding="utf-8")
