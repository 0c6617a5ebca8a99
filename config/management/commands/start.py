"""Sets up a real installation on one machine and serves it; run again, it upgrades and serves."""

from __future__ import annotations

import argparse
import getpass
import os
import secrets
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.keep.upgrade import UpgradeRefused, backup_before
from config.start.ask import ShopAnswers, ask
from config.start.catalog import catalog_copy
from config.start.settings_file import SiteRefused, settings_write
from config.warm import warm
from jobs.models import Shop
from jobs.shop.found import ShopRefused, shop_found


class Command(BaseCommand):
    """Do everything an installation needs, in the order it needs it."""

    help = "Set up this machine (settings, database, static files, kernels, first shop) and serve it."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the address people open, the first shop and its owner."""
        parser.add_argument(
            "--site", default="http://localhost:8000", help="address people open: %(default)s"
        )
        parser.add_argument("--bind", default="127.0.0.1:8000", help="address to listen on: %(default)s")
        parser.add_argument("--no-serve", action="store_true", help="set up, then stop")
        parser.add_argument("--no-worker", action="store_true", help="workers run as processes of their own")
        parser.add_argument("--with-catalog", action="store_true", help="copy the demo's invented catalog")
        shop = parser.add_argument_group(
            "the first shop (asked where left out; the browser asks without a terminal)"
        )
        for field in ShopAnswers.fields():
            shop.add_argument(f"--{field.option}", help=field.words)

    def handle(self, *args: Any, **options: Any) -> None:
        """Set up, then serve in place of this process."""
        self._settings(options["site"])
        self._migrate()
        if not Shop.objects.exists():
            self._first_shop(options)
        call_command("collectstatic", interactive=False, verbosity=0)
        self.stdout.write("Compiling what is slow the first time …")
        warm()
        call_command("check_install", stdout=self.stdout, no_fail=True)
        if not options["no_serve"]:
            self._serve(options)

    def _settings(self, site: str) -> None:
        """Write the settings file; a new one is read by starting this command again."""
        try:
            is_new = settings_write(settings.SETTINGS_FILE, site_url=site)
        except SiteRefused as problem:
            raise CommandError(str(problem)) from None
        if is_new and not settings.HAS_OWN_SECRET:
            self.stdout.write(f"Settings: {settings.SETTINGS_FILE}")
            self.stdout.flush()
            os.execv(sys.executable, [sys.executable, *sys.argv])  # noqa: S606 - this very command

    def _migrate(self) -> None:
        """Bring the database to this release; what holds a shop is backed up before."""
        try:
            before = backup_before(at=timezone.now())
        except (UpgradeRefused, OSError) as problem:
            raise CommandError(f"Nothing was changed. {problem}") from None
        if before:
            self.stdout.write(f"Backup made before the upgrade: {before}")
        call_command("migrate", interactive=False, verbosity=0)

    def _first_shop(self, options: dict[str, Any]) -> None:
        answers = ask(options, self.stdin_is_terminal(), input, getpass.getpass)
        if answers is None:
            self._leave_to_the_browser()
            return
        try:
            member = shop_found(shop=answers.shop(), owner=answers.owner(), at=timezone.now())
        except ShopRefused as refusal:
            raise CommandError(str(refusal)) from None
        if options["with_catalog"]:
            catalog_copy(member.shop)
        self.stdout.write(f"{member.shop.name} is set up; its owner signs in as {member.user.email}.")

    @staticmethod
    def stdin_is_terminal() -> bool:
        """Return whether somebody can be asked."""
        return sys.stdin is not None and sys.stdin.isatty()

    def _leave_to_the_browser(self) -> None:
        path = settings.FIRST_RUN_CODE
        if not path.exists():
            path.touch(mode=0o600)
            path.write_text(secrets.token_hex(4))
        self.stdout.write(
            f"Set up the first shop at {settings.SITE_URL}/first-run/ with code {path.read_text()}"
        )

    def _serve(self, options: dict[str, Any]) -> None:
        """Become the server."""
        worker = "0" if options["no_worker"] else "1"
        self.stdout.write(f"Coachlight: {settings.SITE_URL}/ (listening on {options['bind']})")
        self.stdout.flush()
        os.chdir(settings.BASE_DIR)
        command = [sys.executable, "-m", "gunicorn", "-c", "config/deploy/gunicorn.py"]
        command += ["--bind", options["bind"], "--env", f"WITH_WORKER={worker}"]
        os.execv(sys.executable, command)  # noqa: S606 - our own interpreter and file
