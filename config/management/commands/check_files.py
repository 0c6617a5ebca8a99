"""Compares every stored file with its record."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.keep.files_check import files_wrong, hashes_note


class Command(BaseCommand):
    """Say which files are gone, empty or changed; end with an error where there is one."""

    help = "Read every photo and sheet; say which are gone, empty or not what was written."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print a line for each."""
        wrong = list(files_wrong())
        if noted := hashes_note():
            self.stdout.write(f"{noted} files had no hash noted yet and have it now.")
        for words in wrong:
            self.stdout.write(words)
        if wrong:
            raise CommandError(f"{len(wrong)} files are wrong: a backup has them in its folder files/.")
        self.stdout.write("Every file is there and as it was written.")
