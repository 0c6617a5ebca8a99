"""Shows a newcomer the whole thing running: migrate, load one invented shop, warm up, serve."""

from __future__ import annotations

import argparse
import io
import os
import subprocess
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from config.checks import sqlite_words
from config.demo.books import books_tell
from config.demo.shop import DEMO_PASSWORD, SHOP_NAME, bring_to_life, shade_the_roofs
from config.demo.stories import layouts_offer, stories_tell, weights_round
from config.demo.week import week_tell
from config.warm import warm
from jobs.models import Membership, Shop


class Command(BaseCommand):
    """Start Coachlight with one invented shop; running it twice does no harm."""

    help = "Migrate, load one invented shop, warm what is slow, print the sign-ins and serve."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take an address as runserver does, and --no-serve."""
        parser.add_argument("addrport", nargs="?", default="localhost:8000", help="ADDR:PORT or PORT")
        parser.add_argument("--no-serve", action="store_true", help="prepare everything, then stop")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it all, in the order a fresh machine needs."""
        if not settings.IS_DEMO:
            raise CommandError("The demo sets known passwords; it runs only as: manage.py demo.")
        call_command("check", verbosity=0, stderr=io.StringIO())  # an error still stops it, with its words
        warming = self._warm_beside()
        call_command("migrate", interactive=False, verbosity=0)
        if not Shop.objects.exists():
            self.stdout.write("Loading the invented shop …")
            call_command("loaddata", "demo_shop", verbosity=0)
            weights_round(Shop.objects.get(name=SHOP_NAME).units)
        if sqlite_words():
            self.stdout.write(f"Note: {sqlite_words()} This demo is one process.")
        guest_path = bring_to_life()
        stories_tell()
        week_tell()
        books_tell()
        self.stdout.write("Warming up (the first time takes a little) …")
        if warming:
            warming.wait()
        warm()
        layouts_offer()
        shade_the_roofs()
        self._print_sign_ins(options["addrport"], guest_path)
        if not options["no_serve"]:
            self._serve(options["addrport"])

    def _warm_beside(self) -> subprocess.Popen[bytes] | None:
        """Have the kernels compiled by a process beside this one; None where that was done."""
        if (os.cpu_count() or 1) < 2 or any(settings.KERNELS_DIR.rglob("*.nbi")):
            return None
        self.stdout.write("Compiling the kernels beside …")
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "warm"]
        return subprocess.Popen(command, stdout=subprocess.DEVNULL)  # noqa: S603  our own command

    def _print_sign_ins(self, addrport: str, guest_path: str) -> None:
        """Print the address and the sign-in of each role."""
        host = addrport if ":" in addrport else f"localhost:{addrport}"
        self.stdout.write(f"\nCoachlight: http://{host}/\nPassword for everybody: {DEMO_PASSWORD}\n")
        people = Membership.objects.select_related("user").filter(shop__name=SHOP_NAME)
        for person in people:
            self.stdout.write(f"  {person.get_role_display():<16} {person.user.email}")
        if guest_path:
            self.stdout.write(f"  {'Customer':<16} by link: http://{host}{guest_path}")
        self.stdout.write("")

    def _serve(self, addrport: str) -> None:
        """Serve with the background lanes beside; the reloader would start them twice."""
        from config.background.lanes import start_lanes

        start_lanes()
        call_command("runserver", addrport, use_reloader=False, skip_checks=True)
