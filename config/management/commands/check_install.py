"""Says in plain words what an installation lacks."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from config.start.lacks import Line, look_at_all

MARKS = {True: "ok     ", False: "MISSING", None: "note   "}


class Command(BaseCommand):
    """Look at everything an installation needs; end with 1 when something is missing."""

    help = "Say what is missing on this machine, in plain words."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take --no-fail."""
        parser.add_argument("--no-fail", action="store_true", help="end with 0 all the same")

    def handle(self, *args: Any, **options: Any) -> None:
        """Print a line for each thing."""
        lines: list[Line] = look_at_all(at=timezone.now())
        for line in lines:
            self.stdout.write(f"{MARKS[line.is_ok]} {line.name}: {line.words}")
        if not options["no_fail"] and any(line.is_ok is False for line in lines):
            raise SystemExit(1)
