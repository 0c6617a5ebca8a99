"""The steps of one install, and what a step may record."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class RecordKind(models.TextChoices):
    """What a step records."""

    TICK = "tick", _("Tick")
    NUMBER = "number", _("Number")
    PHOTO = "photo", _("Photo")
    SERIAL = "serial", _("Serial")
    TEXT = "text", _("Text")
    CHOICE = "choice", _("Choice")
    SIGNATURE = "signature", _("Signature")
    LINES = "lines", _("Lines")
    SEVERAL = "several", _("Several")


class Step(ShopOwned):
    """One step of one job; readings of one kind (per string, per joint) are steps with a ``subject``."""

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="steps")
    phase = models.CharField(max_length=1)
    code = models.CharField(max_length=6, help_text="A1 to M7")
    subject = models.CharField(
        max_length=40, blank=True, default="", help_text="string:1, circuit:C2, foot:3 …"
    )
    position = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=160)
    instruction = models.TextField(blank=True, default="")
    fields = models.JSONField(
        default=list,
        help_text="What is recorded: list of name, kind, unit, low, high, choices, required, count",
    )
    card = models.JSONField(default=list, help_text="Reading card: what a wrong value usually means")
    is_hold = models.BooleanField(default=False)
    needs_lead = models.BooleanField(default=False, help_text="Counts only from a lead or the owner")
    is_in_scope = models.BooleanField(default=True)
    can_be_overridden = models.BooleanField(default=True)
    re_runs = models.JSONField(default=list, help_text="Names of as-built values this step changes")
    since_design = models.PositiveSmallIntegerField(
        default=0, help_text="Values recorded against an earlier revision do not count here any more"
    )

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "code", "subject"], name="step_once_per_checklist")
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"
