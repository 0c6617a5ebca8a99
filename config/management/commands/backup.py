"""Writes a backup by hand; the worker writes one a day."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.keep.backup import backup_write


class Command(BaseCommand):
    """Write rows, files and keys of a running installation into one archive."""

    help = "Write a backup. It holds the secret key and what customers trusted you with: lock it away."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the folder."""
        parser.add_argument("--to", default=str(settings.BACKUP_DIR), help="folder: %(default)s")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it and say where."""
        try:
            path = backup_write(Path(options["to"]), at=timezone.now(), passphrase=settings.BACKUP_PASSPHRASE)
        except OSError as problem:
            raise CommandError(f"No backup was written: {problem}") from None
        sealed = "encrypted" if settings.BACKUP_PASSPHRASE else "not encrypted (set BACKUP_PASSPHRASE)"
        self.stdout.write(f"{path}, {path.stat().st_size:,} bytes, {sealed}")
