"""Append-only events: everything recorded at a step."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from checklists.models.checklist import Checklist
from checklists.models.device import Device
from checklists.models.photo import Photo
from checklists.models.step import Step
from jobs.models import ShopOwned

#: A record done and received within this is told with one time. A choice of ours.
_ONE_TIME = timedelta(minutes=10)


def is_apart(done_at: datetime | None, received_at: datetime | None) -> bool:
    """Return whether two moments are far enough apart to tell both."""
    if done_at is None or received_at is None:
        return False
    return abs(received_at - done_at) > _ONE_TIME


class StepEvent(ShopOwned):
    """One thing recorded at a step, or at the job (hours, loads: no step). Never changed, never
    deleted: an undo is another event.

    ``id`` is made on the device, so that the same event arriving twice is one event. ``replaces`` names the
    values the person saw when recording this one: a value nobody saw stays beside it. ``undoes`` is a plain
    id, not a foreign key, because an undo may arrive before what it undoes.
    """

    class Verb(models.TextChoices):
        RECORD = "record", _("Recorded")
        UNDO = "undo", _("Undone")
        NOTE = "note", _("Note")
        START = "start", _("Clock started")
        STOP = "stop", _("Clock stopped")
        CORRECT = "correct", _("Hours put right")
        LOAD = "load", _("Loaded")
        SHORT = "short", _("Shortage")
        SAFETY = "safety", _("Safety lines read")

    shop_path = "checklist__job__shop"

    id = models.UUIDField(primary_key=True)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="events")
    serial = models.PositiveIntegerField(
        help_text="Counts the events of a checklist; given out under its lock, so in the order of commits"
    )
    step = models.ForeignKey(Step, on_delete=models.CASCADE, null=True, blank=True, related_name="events")
    verb = models.CharField(max_length=8, choices=Verb, default=Verb.RECORD)
    field = models.CharField(max_length=40, blank=True, default="")
    value = models.JSONField(null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True, default="")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="events")
    undoes = models.UUIDField(null=True, blank=True)
    replaces = models.JSONField(default=list, blank=True, help_text="Ids of the values this one replaces")
    cause = models.TextField(blank=True, default="", help_text="Why a failed number is recorded again")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    by_name = models.CharField(max_length=150)
    by_role = models.CharField(max_length=20, blank=True, default="")
    device = models.CharField(max_length=64, blank=True, default="", help_text="Its name as sent")
    sent_from = models.ForeignKey(
        Device, on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    claimed_at = models.DateTimeField(help_text="The device's clock")
    offset_ms = models.BigIntegerField(null=True, blank=True, help_text="Our clock less the device's")
    received_at = models.DateTimeField(help_text="Our clock")
    sequence = models.PositiveIntegerField(
        null=True, blank=True, help_text="Counts what its tablet recorded, in the order of the work there"
    )
    design_number = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["received_at", "pk"]
        indexes = [models.Index(fields=["step", "received_at"])]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "serial"], name="event_serial_once_per_checklist")
        ]

    def __str__(self) -> str:
        return f"{self.step.code if self.step else self.verb} {self.field} {self.value}"

    @property
    def done_at(self) -> datetime:
        """Return when it was done: the device's clock put right by its measured offset. To read only."""
        return self.claimed_at + timedelta(milliseconds=self.offset_ms or 0)

    @property
    def came_late(self) -> bool:
        """Return whether it was done at another time than it reached us: recorded without a network."""
        return is_apart(self.done_at, self.received_at)
