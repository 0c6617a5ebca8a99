"""Values as built that made a check worse, and holds the owner let pass."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from checklists.models.checklist import Checklist
from checklists.models.step import Step
from jobs.models import ShopOwned


class HoldOverride(ShopOwned):
    """The owner let a hold pass, with a reason; printed on the sheet.

    ``covers`` lists what was open, word for word: what opens later is not covered and shuts the hold again.
    """

    shop_path = "step__checklist__job__shop"

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="overrides")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=150)
    reason = models.TextField()
    covers = models.JSONField(default=list)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.step.code} overridden by {self.by_name}"


class Deviation(ShopOwned):
    """An as-built value made a check worse or moved it more than 5 %."""

    class State(models.TextChoices):
        OPEN = "open", _("Open")
        ACCEPTED = "accepted", _("Accepted by owner")
        RESOLVED = "resolved", _("Resolved by a later value")

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="deviations")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, null=True, related_name="deviations")
    check_key = models.CharField(max_length=80)
    title = models.CharField(max_length=200)
    planned_value = models.FloatField(null=True)
    as_built_value = models.FloatField(null=True)
    limit = models.FloatField(null=True)
    unit = models.CharField(max_length=12, blank=True, default="")
    planned_verdict = models.CharField(max_length=20)
    as_built_verdict = models.CharField(max_length=20)
    sentence = models.TextField()
    options = models.JSONField(default=list, help_text="Ways out, each with value and verdict")
    can_be_accepted = models.BooleanField(default=True, help_text="False: no one may let it stand")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    raised_at = models.DateTimeField()
    decided_by_name = models.CharField(max_length=150, blank=True, default="")
    decided_at = models.DateTimeField(null=True, blank=True)
    decision = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["-raised_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    @property
    def blocks(self) -> bool:
        """Return whether the go and the commissioning holds stay shut because of it."""
        return self.state == self.State.OPEN and self.as_built_verdict == "block"
