"""Takes a shop out of an archive into this installation."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.keep.shop_import import ImportRefused, shop_import
from jobs.shop.actor import System
from jobs.shop.log import log


class Command(BaseCommand):
    """Take a shop in beside those there are; wholly, or not at all."""

    help = "Take a shop in from an archive of shop_export. Its people set their passwords anew."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the archive."""
        parser.add_argument("archive", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        """Take it in and say what is left to do."""
        try:
            shop = shop_import(options["archive"])
        except ImportRefused as refusal:
            raise CommandError(f"Nothing was changed. {refusal}") from None
        log(shop=shop, actor=System(), verb="shop imported", detail="", at=timezone.now())
        self.stdout.write(
            f"{shop.name} is here. Its people set a password by “Forgot your password?”; links that customers"
            " had are closed: send them anew."
        )
