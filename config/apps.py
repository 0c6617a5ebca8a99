"""Knows that config is an app only for its management commands."""

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "config"
