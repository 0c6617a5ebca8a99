"""Pictures of an install, and those still on their way here in pieces."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class Photo(ShopOwned):
    """A picture taken at a step, re-encoded by us; served through a permission-checked view only."""

    shop_path = "checklist__job__shop"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="photos")
    file = models.FileField(upload_to="photos/%Y/%m/")
    small = models.FileField(upload_to="photos/%Y/%m/")
    sent_sha256 = models.CharField(max_length=64, help_text="Of the bytes that came in, as we measured them")
    original_sha256 = models.CharField(max_length=64, help_text="Of the camera's file, as the device told")
    file_sha256 = models.CharField(max_length=64, blank=True, default="", help_text="Of the stored file")
    small_sha256 = models.CharField(max_length=64, blank=True, default="", help_text="Of the small one")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    taken_by_name = models.CharField(max_length=150, blank=True, default="")
    claimed_at = models.DateTimeField(null=True, blank=True, help_text="The camera's clock")
    latitude_deg = models.FloatField(null=True, blank=True, help_text="Only where the shop asks for it")
    longitude_deg = models.FloatField(null=True, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["checklist", "sent_sha256"], name="photo_once_per_checklist")
        ]

    def __str__(self) -> str:
        return str(self.id)


class Upload(ShopOwned):
    """A picture on its way here, in pieces. ``offset`` never says more than what is safe on the disk.

    ``id`` is made on the device. The bytes wait in a file of their own until all have come; then they become
    a ``photo``, or are ``refused``, and the file goes.
    """

    shop_path = "checklist__job__shop"

    id = models.UUIDField(primary_key=True)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="uploads")
    sent_sha256 = models.CharField(max_length=64, help_text="Of the bytes to come, as the device told")
    original_sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField(help_text="Bytes to come")
    offset = models.PositiveIntegerField(default=0, help_text="Bytes that are safe here")
    device = models.CharField(max_length=64, blank=True, default="")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    refused = models.TextField(blank=True, default="")
    tries = models.PositiveSmallIntegerField(default=0, help_text="How often the whole was looked at in vain")
    begun_at = models.DateTimeField()
    touched_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["touched_at"])]

    def __str__(self) -> str:
        return f"{self.id}, {self.offset} of {self.size} bytes"

    @property
    def is_whole(self) -> bool:
        """Return whether every byte is here."""
        return self.offset == self.size

    @property
    def is_over(self) -> bool:
        """Return whether nothing more is to come: it became a photo or was refused."""
        return self.photo_id is not None or bool(self.refused)
