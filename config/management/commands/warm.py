"""Makes a server ready after an installation: kernels and bytecode, once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from config.warm import warm


class Command(BaseCommand):
    """Compile and cache what every later process would wait for; a second time it takes seconds."""

    help = "Compile and cache the kernels of the shade engine and the bytecode of what is loaded."

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it and say so."""
        warm()
        self.stdout.write("Ready: the first answer of a new process waits for no compiler.")
