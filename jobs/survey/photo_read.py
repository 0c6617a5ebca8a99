"""What the workspace is told of the photo under a plan."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from jobs.models import RoofPhoto, Survey


def photo_of(survey: Survey) -> RoofPhoto | None:
    """Return the photo of a survey, None where there is none."""
    return getattr(survey, "roof_photo", None)


def photo_state(photo: RoofPhoto | None) -> dict[str, Any] | None:
    """Return picture and place in the shape the workspace sends back."""
    if photo is None:
        return None
    return {
        "address": reverse("jobs:roof_photo", args=[photo.pk]),
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "a": photo.a_px,
        "b": photo.b_px,
        "distance_mm": None if photo.distance_m is None else round(photo.distance_m * 1000, 2),
        "x_mm": round(photo.x_m * 1000, 2),
        "y_mm": round(photo.y_m * 1000, 2),
        "turn_deg": photo.turn_deg,
        "opacity": photo.opacity_fraction,
        "seen": photo.edit_count,
    }
