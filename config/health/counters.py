"""Counts requests, and tells queue, letters and disk, in the text form of Prometheus."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

from django.conf import settings
from django.db.models import Count
from django.utils import timezone
from django_tasks_db.models import DBTaskResult
from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from common.background import SILENT
from config.models import WorkerBeat
from config.version import VERSION
from jobs.models import OutboxMail

REGISTRY = CollectorRegistry()
REQUESTS = Counter(
    "coachlight_requests", "Requests answered", ["method", "view", "status"], registry=REGISTRY
)
SECONDS = Histogram(
    "coachlight_request_seconds",
    "Time to answer a request",
    registry=REGISTRY,
    buckets=(0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1, 2.5, 5, 10, 30),
)


class _Installation(Collector):
    """What is read from the database and the disk when somebody asks."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Yield the gauges."""
        yield GaugeMetricFamily("coachlight_version_info", f"Version {VERSION}", value=1)
        tasks = GaugeMetricFamily("coachlight_tasks", "Tasks by queue and state", labels=["queue", "state"])
        for row in DBTaskResult.objects.values("queue_name", "status").annotate(n=Count("pk")).order_by():
            tasks.add_metric([row["queue_name"], row["status"]], row["n"])
        yield tasks
        mails = GaugeMetricFamily("coachlight_mails", "Letters by state", labels=["state"])
        for mail in OutboxMail.objects.values("state").annotate(n=Count("pk")).order_by():
            mails.add_metric([mail["state"]], mail["n"])
        yield mails
        alive = WorkerBeat.objects.filter(at__gte=timezone.now() - SILENT).count()
        yield GaugeMetricFamily("coachlight_workers", "Worker processes alive", value=alive)
        free = shutil.disk_usage(settings.VAR_DIR).free
        yield GaugeMetricFamily("coachlight_disk_free_bytes", "Room left beside the database", value=free)


REGISTRY.register(_Installation())


def counters_text() -> bytes:
    """Return all counters and gauges in Prometheus text form."""
    return generate_latest(REGISTRY)
