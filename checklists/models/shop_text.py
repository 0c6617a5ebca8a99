"""The shop's own wording of a text of the steps."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from jobs.models import ShopOwned


class ShopText(ShopOwned):
    """What a shop says instead of one of our texts, in one language. Shown only, never part of a record."""

    shop_path: ClassVar[str] = "shop"

    shop = models.ForeignKey("jobs.Shop", on_delete=models.CASCADE, related_name="texts")
    language = models.CharField(max_length=10, choices=settings.LANGUAGES)
    source = models.TextField(help_text="The text as the step list has it")
    text = models.CharField(max_length=600)

    class Meta:
        ordering = ["language", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "language", "source"], name="one_wording_of_a_text")
        ]

    def __str__(self) -> str:
        return f"{self.language}: {self.text[:40]}"
