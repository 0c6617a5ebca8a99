"""One run of the shade engine: what it was asked, how far it is, what it answered."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class ShadeRun(ShopOwned):
    """A year of shade for a design, or its check hour by hour, worked out in the background.

    ``inputs`` is what was asked, written when the work begins; ``result`` is printed as it was stored.
    """

    class Kind(models.TextChoices):
        YEAR = "year", _("Year")
        CHECK = "check", _("Check by every hour")

    class State(models.TextChoices):
        QUEUED = "queued", _("Waiting")
        RUNNING = "running", _("Running")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    shop_path = "design__job__shop"

    design = models.ForeignKey("jobs.Design", on_delete=models.CASCADE, related_name="shade_runs")
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.YEAR)
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    stop_key = models.UUIDField(
        null=True, blank=True, help_text="Place chosen by hand; blank: where most nights are spent"
    )
    inputs = models.JSONField(default=dict, blank=True)
    result = models.JSONField(default=dict, blank=True)
    engine_version = models.CharField(max_length=20, blank=True, default="")
    progress_fraction = models.FloatField(default=0)
    doing = models.CharField(max_length=80, blank=True, default="")
    error = models.TextField(blank=True, default="")
    attempts = models.PositiveSmallIntegerField(default=0)
    at = models.DateTimeField(help_text="When it was asked")
    touched_at = models.DateTimeField(help_text="When it was last seen alive")
    by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["design", "kind", "-id"])]

    def __str__(self) -> str:
        return f"{self.design}, {self.get_kind_display()}"

    @property
    def is_open(self) -> bool:
        """Return whether an answer is still to come."""
        return self.state in {self.State.QUEUED, self.State.RUNNING}
