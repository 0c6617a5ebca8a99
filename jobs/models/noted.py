"""A verdict that a person has looked at and taken note of, with the numbers it had then."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from jobs.models.scope import ShopOwned


class NotedCheck(ShopOwned):
    """One check of a design, noted by a person for a reason; it holds until the check's numbers change."""

    shop_path = "design__job__shop"

    design = models.ForeignKey("jobs.Design", on_delete=models.CASCADE, related_name="noted_checks")
    check_key = models.CharField(max_length=200)
    title = models.CharField(max_length=200)
    verdict = models.CharField(max_length=20)
    value = models.FloatField(null=True, blank=True)
    limit = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=20, blank=True, default="")
    reason = models.TextField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    by_name = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["design", "check_key"], name="check_noted_once_per_design")
        ]

    def __str__(self) -> str:
        return f"{self.title}, noted by {self.by_name}"
