"""Tidies the photo folders from a shell or a timer."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from checklists.photos.tidying import TidyRefused, photos_tidy


class Command(BaseCommand):
    """Remove what never became a photo; to be run once a day or by hand."""

    help = "Remove uploads untouched for 30 days and files that belong to no record; never a stored photo."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take --even-if-many."""
        parser.add_argument(
            "--even-if-many", action="store_true", help="remove even when most files belong to no record"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Tidy and say what went."""
        try:
            done = photos_tidy(at=timezone.now(), even_if_many=options["even_if_many"])
        except TidyRefused as refusal:
            raise CommandError(str(refusal)) from None
        self.stdout.write(
            f"{done.unfinished} unfinished uploads, {done.over} records of finished ones"
            f" and {done.files} files without a record removed."
        )
