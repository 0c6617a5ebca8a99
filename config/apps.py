"""Knows that config is an app only for its management commands and its checks at the start."""

from importlib import import_module

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "config"

    def ready(self) -> None:
        """Register the checks."""
        import_module("config.checks")
