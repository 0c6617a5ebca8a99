"""A later design revision that took the place of the plan."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class PlanChange(ShopOwned):
    """A later design revision took the place of the plan; what was asked before is kept word for word."""

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="plan_changes")
    from_design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="+")
    to_design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="+")
    facts_before = models.JSONField(default=dict)
    steps_before = models.JSONField(default=list, help_text="The steps it touched, as they were asked before")
    reason = models.TextField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "to_design"], name="plan_change_once_per_revision")
        ]

    def __str__(self) -> str:
        return f"{self.from_design} to {self.to_design}"
