"""A picture of the roof to trace from, and how it lies on the plan."""

from __future__ import annotations

import uuid

from django.db import models

from jobs.models.scope import ShopOwned


class RoofPhoto(ShopOwned):
    """A picture laid under the plan of a survey; never in a quote or a job sheet.

    ``a_px`` and ``b_px`` are two points of the picture whose distance was measured: they give its scale.
    ``x_m`` and ``y_m`` say where its middle lies on the roof, ``turn_deg`` turns it to the left.
    """

    shop_path = "survey__job__shop"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    survey = models.OneToOneField("jobs.Survey", on_delete=models.CASCADE, related_name="roof_photo")
    file = models.FileField(upload_to="roofs/%Y/%m/")
    file_sha256 = models.CharField(max_length=64, blank=True, default="", help_text="Of the stored file")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    a_px = models.JSONField(default=list, blank=True, help_text="First known point (x, y), from the top left")
    b_px = models.JSONField(default=list, blank=True)
    distance_m = models.FloatField(
        null=True, blank=True, help_text="Between the two points; blank: not scaled"
    )
    x_m = models.FloatField(default=0)
    y_m = models.FloatField(default=0)
    turn_deg = models.FloatField(default=0)
    opacity_fraction = models.FloatField(default=0.5)
    edit_count = models.PositiveIntegerField(default=0, help_text="Grows with every change")
    added_by_name = models.CharField(max_length=150, blank=True, default="")
    added_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Photo of the roof, {self.survey}"
