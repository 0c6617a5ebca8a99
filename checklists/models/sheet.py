"""Signatures, and the job sheets issued under them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class SignOff(ShopOwned):
    """One signature under the work: who, in which part, bound to what was shown."""

    class Part(models.TextChoices):
        TECHNICIAN = "technician", _("Technician: work done")
        OWNER = "owner", _("Owner: overrides and quality")
        LICENSED = "licensed", _("Licensed person: AC work")
        CUSTOMER = "customer", _("Customer: received and shown")

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="sign_offs")
    part = models.CharField(max_length=12, choices=Part)
    printed_name = models.CharField(max_length=150)
    signature_svg = models.TextField()
    content_sha256 = models.CharField(max_length=64)
    key = models.UUIDField(null=True, blank=True, unique=True, help_text="Made on the tablet")
    shown = models.TextField(blank=True, default="", help_text="What the tablet showed, word for word")
    shown_sha256 = models.CharField(max_length=64, blank=True, default="")
    problem = models.TextField(blank=True, default="", help_text="Why it does not stand under the sheet")
    claimed_at = models.DateTimeField(null=True, blank=True, help_text="The tablet's clock")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at"]
        constraints = [
            # A signature holds for what was shown; when the record changes, the new content is signed anew.
            models.UniqueConstraint(
                fields=["checklist", "part", "content_sha256"],
                condition=models.Q(problem=""),
                name="one_signature_per_part_and_content",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_part_display()}: {self.printed_name}"


class JobSheet(ShopOwned):
    """One issued job sheet: data as printed, file, hash. Never rewritten; a correction is a new one.

    What it says is frozen when it is issued; its file follows, printed in the background.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("Waiting to print")
        PRINTING = "printing", _("Being printed")
        READY = "ready", _("Printed")
        FAILED = "failed", _("Not printed")

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="sheets")
    number = models.PositiveSmallIntegerField()
    snapshot = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True, default="", help_text="Why it could not be printed")
    touched_at = models.DateTimeField(help_text="When its printing was last seen alive")
    file = models.FileField(upload_to="sheets/%Y/%m/", blank=True, default="")
    file_sha256 = models.CharField(max_length=64, blank=True, default="")
    is_released = models.BooleanField(default=False)
    reason = models.TextField(blank=True, default="")
    issued_at = models.DateTimeField()
    issued_by_name = models.CharField(max_length=150)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["checklist", "number"], name="sheet_number_once")]

    def __str__(self) -> str:
        return f"Job sheet {self.number}"

    @property
    def is_ready(self) -> bool:
        """Return whether its paper is here."""
        return self.state == self.State.READY

    @property
    def is_on_its_way(self) -> bool:
        """Return whether its paper is still to come."""
        return self.state in {self.State.WAITING, self.State.PRINTING}
