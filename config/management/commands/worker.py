"""Runs the background work of an installation; as many processes as wished, on as many machines."""

from __future__ import annotations

import argparse
import signal
import sys
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from config.background.lanes import LANES, start_lanes


class Command(BaseCommand):
    """Work until told to stop; what is at work then is finished first."""

    help = "Run background work. Ctrl+C or SIGTERM ends it after the work at hand, a second one at once."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Take the lanes to work on."""
        parser.add_argument("--lanes", default=",".join(LANES), help="some of: %(default)s")

    def handle(self, *args: Any, **options: Any) -> None:
        """Start the lanes and wait."""
        names = [name.strip() for name in options["lanes"].split(",")]
        if unknown := [name for name in names if name not in LANES]:
            raise CommandError(f"Lanes: there is no {', '.join(unknown)}; there are {', '.join(LANES)}.")
        workers = start_lanes(names)

        def stop(number: int, frame: FrameType | None) -> None:
            if workers.keeper.is_over:
                sys.exit(1)
            self.stdout.write("Stopping after the work at hand.")
            workers.stop()

        for each in (signal.SIGINT, signal.SIGTERM):
            signal.signal(each, stop)
        self.stdout.write(f"Working as {workers.keeper.process} on {', '.join(names)}.")
        workers.join()
