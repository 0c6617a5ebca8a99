"""Tablets that speak to us, and what a revoked one sent."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class Device(ShopOwned):
    """A tablet that speaks to us. ``key`` is made on it, once; a person of another shop makes another row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    shop = models.ForeignKey("jobs.Shop", on_delete=models.CASCADE, related_name="devices")
    key = models.UUIDField(help_text="Made on the device")
    name = models.CharField(max_length=64, blank=True, default="", help_text="What it says it is")
    given_name = models.CharField(max_length=40, blank=True, default="", help_text="What people call it")
    app_version = models.CharField(max_length=40, blank=True, default="")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=150)
    offset_ms = models.BigIntegerField(
        null=True, blank=True, help_text="Our clock less its clock, as measured"
    )
    first_seen_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["-last_seen_at"]
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="device_once_per_shop")]

    def __str__(self) -> str:
        return self.given_name or self.name or f"Tablet {str(self.key)[:4]}"

    @property
    def is_revoked(self) -> bool:
        """Return whether what it sends is held for the owner to look at."""
        return self.revoked_at is not None

    @property
    def clock_words(self) -> str:
        """Return how far its clock is off, to be read."""
        if self.offset_ms is None:
            return "not measured"
        minutes = round(abs(self.offset_ms) / 60_000)
        if minutes == 0:
            return "right"
        side = "slow" if self.offset_ms > 0 else "fast"
        return f"{minutes} min {side}" if minutes < 120 else f"{minutes / 60:.1f} h {side}"


class DevicePin(ShopOwned):
    """A person may unlock a tablet by PIN, and be signed in by it; ends with a new password or when not used.

    ``secret_hash`` is a slow hash of what the tablet derives from PIN and salt: neither of them is here.
    """

    shop_path = "device__shop"

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="pins")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    secret_hash = models.CharField(max_length=200)
    password_tag = models.CharField(max_length=64, help_text="Moves with the person's password")
    wrong_count = models.PositiveSmallIntegerField(default=0)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField()

    class Meta:
        ordering = ["-used_at"]
        constraints = [models.UniqueConstraint(fields=["device", "person"], name="pin_once_per_device")]

    def __str__(self) -> str:
        return f"PIN of {self.person} on {self.device}"


class HeldBatch(ShopOwned):
    """What a revoked device sent, whole. The owner takes it in or sets it aside; it is never deleted."""

    class State(models.TextChoices):
        WAITING = "waiting", _("Waiting for the owner")
        TAKEN = "taken", _("Added to the record")
        ASIDE = "aside", _("Set aside")

    shop_path = "device__shop"

    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="held")
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="held")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=150)
    person_role = models.CharField(max_length=20)
    body = models.TextField(help_text="The batch as it was sent, in JSON")
    event_ids = models.JSONField(default=list)
    received_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    decided_by_name = models.CharField(max_length=150, blank=True, default="")
    decided_at = models.DateTimeField(null=True, blank=True)
    reason = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return f"{len(self.event_ids)} events of {self.device}"

    @property
    def is_waiting(self) -> bool:
        """Return whether the owner has not decided yet."""
        return self.state == self.State.WAITING
