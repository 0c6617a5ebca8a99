"""Knows the name of the jobs app."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
