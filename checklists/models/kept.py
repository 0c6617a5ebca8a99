"""What stood of a job's events when the newest of them came: kept so that the next costs little."""

from __future__ import annotations

from django.db import models

from checklists.models.checklist import Checklist
from jobs.models import ShopOwned


class KeptEvents(ShopOwned):
    """Which events of a checklist stand, up to a serial; holds nothing that the events do not say.

    It may be deleted at any moment: it is worked out again from the events.
    """

    shop_path = "checklist__job__shop"

    checklist = models.OneToOneField(Checklist, on_delete=models.CASCADE, related_name="kept_events")
    serial = models.PositiveIntegerField(help_text="Of the newest event it knows")
    newest = models.UUIDField(help_text="The id of that event")
    count = models.PositiveIntegerField(help_text="Events up to that one")
    body = models.TextField(help_text="JSON: the names of the events that stand, field by field")
    sha256 = models.CharField(max_length=64, help_text="Of serial, newest, count and body")

    def __str__(self) -> str:
        return f"Events of {self.checklist} up to {self.serial}"
