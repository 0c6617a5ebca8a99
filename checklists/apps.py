"""Knows the name of the checklists app."""

from django.apps import AppConfig


class ChecklistsConfig(AppConfig):
    name = "checklists"
