"""What an installation remembers of its own running, and the archives it wrote for owners."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class WorkerBeat(models.Model):
    """A worker process, and when it last said that it is alive."""

    worker = models.CharField(max_length=40, primary_key=True)
    lanes = models.CharField(max_length=200)
    started_at = models.DateTimeField()
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return self.worker


class Periodic(models.Model):
    """Something done again and again, and when it is due next."""

    name = models.CharField(max_length=40, primary_key=True)
    due_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "periodic work"

    def __str__(self) -> str:
        return self.name


class CacheRow(models.Model):
    """An entry of the cache that several processes share, as Django's database cache lays it out."""

    cache_key = models.CharField(max_length=255, primary_key=True)
    value = models.TextField()
    expires = models.DateTimeField(db_index=True)

    class Meta:
        db_table = "shared_cache"

    def __str__(self) -> str:
        return self.cache_key


class ShopArchive(models.Model):
    """A shop written whole into one file because its owner asked for it; kept for some days."""

    class State(models.TextChoices):
        WAITING = "waiting", _("Waiting for its turn")
        RUNNING = "running", _("Being written")
        READY = "ready", _("Ready")
        FAILED = "failed", _("Failed")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.CASCADE, related_name="archives")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    asked_by_name = models.CharField(max_length=150)
    asked_at = models.DateTimeField()
    touched_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True, default="")
    file = models.CharField(max_length=120, blank=True, default="")
    file_sha256 = models.CharField(max_length=64, blank=True, default="")
    size = models.PositiveBigIntegerField(default=0, help_text="[bytes]")
    rows = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-asked_at"]

    def __str__(self) -> str:
        return f"Archive of {self.asked_at:%b %d, %Y}"

    @property
    def is_on_its_way(self) -> bool:
        """Return whether a worker has it, or will."""
        return self.state in {self.State.WAITING, self.State.RUNNING}

    @property
    def is_ready(self) -> bool:
        """Return whether it can be fetched."""
        return self.state == self.State.READY
