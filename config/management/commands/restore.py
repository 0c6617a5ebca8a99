"""Brings a backup back, into SQLite or PostgreSQL, whichever it came from."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from config.keep.restore import RestoreRefused, backup_restore


class Command(BaseCommand):
    """Replace everything in this installation by a backup; wholly, or not at all."""

    help = "Bring a backup back. Stop the web server and the workers first."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the archive, and leave to overwrite."""
        parser.add_argument("archive", type=Path)
        parser.add_argument("--replace", action="store_true", help="overwrite the shops that are here")

    def handle(self, *args: Any, **options: Any) -> None:
        """Bring it back and say what came."""
        call_command("migrate", interactive=False, verbosity=0)
        try:
            counts = backup_restore(
                options["archive"], passphrase=settings.BACKUP_PASSPHRASE, replace=options["replace"]
            )
        except RestoreRefused as refusal:
            raise CommandError(str(refusal)) from None
        self.stdout.write(f"{sum(counts.values()):,} rows in {len(counts)} tables are back, and their files.")
        self.stdout.write(
            "Keys lie in the archive's folder keys/: copy settings.env where this machine has none."
        )
