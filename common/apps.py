"""Knows that common is an app only for its template tags."""

from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "common"
