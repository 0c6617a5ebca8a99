"""Registers the template tags, and the check that papers can be printed."""

from django.apps import AppConfig
from django.core import checks


class CommonConfig(AppConfig):
    name = "common"

    def ready(self) -> None:
        """Register the start-up check."""
        from common.pdf import check_pdf_library

        checks.register(check_pdf_library)
