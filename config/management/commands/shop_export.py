"""Writes one shop whole into an archive."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.keep.shop_export import shop_export
from jobs.models import Shop
from jobs.shop.actor import System
from jobs.shop.log import log


class Command(BaseCommand):
    """Write rows and files of one shop; nobody can sign in by what is in it."""

    help = "Write one shop, rows and files, into an archive. It holds what customers trusted it with."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the archive, and the shop where there are several."""
        parser.add_argument("archive", type=Path)
        parser.add_argument("--shop", help="its name, where there are several")

    def handle(self, *args: Any, **options: Any) -> None:
        """Write it, note it in the shop's log and say how much it was."""
        shops = Shop.objects.filter(name=options["shop"]) if options["shop"] else Shop.objects.all()
        if len(shops) != 1:
            names = ", ".join(Shop.objects.values_list("name", flat=True))
            raise CommandError(f"Say which shop with --shop. Here are: {names or 'none'}.")
        at = timezone.now()
        try:
            counts = shop_export(shops[0], options["archive"], at=at)
        except OSError as problem:
            raise CommandError(f"Nothing was written: {problem}") from None
        log(shop=shops[0], actor=System(), verb="shop exported", detail="by whoever runs the server", at=at)
        self.stdout.write(
            f"{options['archive']}: {sum(counts.values()):,} rows of {shops[0].name} and its files."
        )
