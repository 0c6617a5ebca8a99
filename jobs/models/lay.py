"""One search for automatic layouts: what it was allowed, how far it is, what it found."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class LayRun(ShopOwned):
    """A search for layouts of a design's roof, in the background; the design itself is not touched.

    ``options`` is what the person allowed; ``result`` holds the candidates found so far, best first.
    """

    class State(models.TextChoices):
        QUEUED = "queued", _("Waiting")
        RUNNING = "running", _("Running")
        DONE = "done", _("Done")
        STOPPED = "stopped", _("Stopped by hand")
        FAILED = "failed", _("Failed")

    shop_path = "design__job__shop"

    design = models.ForeignKey("jobs.Design", on_delete=models.CASCADE, related_name="lay_runs")
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    options = models.JSONField(default=dict, blank=True)
    result = models.JSONField(default=dict, blank=True)
    engine_version = models.CharField(max_length=20, blank=True, default="")
    progress_fraction = models.FloatField(default=0)
    doing = models.CharField(max_length=80, blank=True, default="")
    error = models.TextField(blank=True, default="")
    at = models.DateTimeField(help_text="When it was asked")
    touched_at = models.DateTimeField(help_text="When it was last seen alive")
    by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.design}, layouts"

    @property
    def is_open(self) -> bool:
        """Return whether more may still be found."""
        return self.state in {self.State.QUEUED, self.State.RUNNING}
