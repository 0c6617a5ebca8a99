"""A long table on its way into the shop's records: the file, how far it is, what it would do or did."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class TableRun(ShopOwned):
    """A file that is looked at, then after a yes taken in, in the background."""

    class State(models.TextChoices):
        QUEUED = "queued", _("Waiting")
        RUNNING = "running", _("Running")
        READY = "ready", _("Looked at")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    class Phase(models.TextChoices):
        LOOK = "look", _("Looking at it")
        STORE = "store", _("Taking it in")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.CASCADE, related_name="table_runs")
    kind = models.CharField(max_length=12)
    name = models.CharField(max_length=120, help_text="Of the file")
    data = models.BinaryField(default=b"")
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    phase = models.CharField(max_length=6, choices=Phase, default=Phase.LOOK)
    report = models.JSONField(default=dict, blank=True)
    progress_fraction = models.FloatField(default=0)
    doing = models.CharField(max_length=80, blank=True, default="")
    error = models.TextField(blank=True, default="")
    attempts = models.PositiveSmallIntegerField(default=0)
    at = models.DateTimeField()
    touched_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_open(self) -> bool:
        """Return whether work is still to be done on it."""
        return self.state in {self.State.QUEUED, self.State.RUNNING}
