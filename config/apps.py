"""Sets up at start: system checks, and how many threads a question about shade may use."""

from importlib import import_module

from django.apps import AppConfig
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

import sizing


class ConfigConfig(AppConfig):
    name = "config"

    def ready(self) -> None:
        """Register the checks; tell the shade engine its threads."""
        import_module("config.checks")
        try:
            sizing.use_threads(settings.SHADE_THREADS)
        except ValueError as problem:
            raise ImproperlyConfigured(f"SHADE_THREADS: {problem}") from problem
