"""What an installation remembers of its own running; nothing of any shop."""

from __future__ import annotations

from django.db import models


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
